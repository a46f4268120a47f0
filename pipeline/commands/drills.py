"""The commands on drills: teach, list and forget."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline.commands.help import command, group, option
from pipeline.commands.installation import complete_move
from pipeline.commands.shared import debug_option, report_error
from pipeline.core.errors import CrossemetryError, DrillError, SettingsError
from pipeline.core.move_table import known_moves
from pipeline.core.toml_file import nearest
from pipeline.log.log_request import LogRequest, allowed_settings
from pipeline.settings.checks import check_drill_name, check_stature_m, drill_names, existing_drill
from pipeline.settings.settings import GivenSettings

if TYPE_CHECKING:
    from pipeline.core.messages import Texts
    from pipeline.feedback.words import Words
    from pipeline.teaching.drills import Drill
    from pipeline.teaching.teach import Taught


@group("drills", help="drills", invoke_without_command=True)
@option("--json", "as_json", is_flag=True, help="options.list_json")
@debug_option
@click.pass_context
def drills(context: click.Context, /, as_json: bool, debug: bool) -> None:
    """List the taught drills: measures, examples, by whom and when."""
    if context.invoked_subcommand is not None:
        return
    from pipeline.teaching.drill_store import load_drill

    exit_code, found = 0, []
    for name in drill_names():
        try:
            found.append(load_drill(name))
        except CrossemetryError as error:  # the other drills are still listed
            exit_code = max(exit_code, report_error(error, debug=debug))
    try:
        from pipeline.feedback.words import load_words

        texts = load_words().texts
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    if as_json:
        document = {
            "schema": "crossemetry.drills/1",
            "drills": [_as_dict(drill) for drill in found],
        }
        click.echo(json.dumps(document, indent=2))
    elif found:
        click.echo("\n".join(_line(drill, texts) for drill in found))
    elif not exit_code:
        click.echo(texts.text("drills_output.none"))
    context.exit(exit_code)


@drills.command("forget", help="drills.forget")
@click.argument("name", metavar="NAME")
@debug_option
@click.pass_context
def forget(context: click.Context, /, name: str, debug: bool) -> None:
    """Delete a drill. Results of earlier analyses stay."""
    try:
        from pipeline.feedback.words import load_words
        from pipeline.teaching.drill_store import forget_drill

        texts, name = load_words().texts, existing_drill(name)
        _check_no_ranges(name)
        click.echo(texts.text("drills_output.forgotten", name=forget_drill(name)))
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))


def _line(drill: Drill, texts: Texts) -> str:
    taught = "taught_by" if drill.taught_by else "taught_on"
    return texts.text(
        "drills_output.line",
        name=drill.name,
        n=len(drill.examples),
        events="".join(f", {event}" for event in drill.event_u_s),
        like=texts.text("drills_output.like", move=drill.like) if drill.like else "",
        n_measures=len(drill.measures),
        taught=texts.text(f"drills_output.{taught}", day=drill.taught_on, name=drill.taught_by),
    )


def _as_dict(drill: Drill) -> dict[str, Any]:
    return {
        "name": drill.name,
        "n_examples": len(drill.examples),
        "stick_hand": drill.hand,
        "events": {event: {"u_s": u_s} for event, u_s in drill.event_u_s.items()},
        "like": drill.like,
        "measures": list(drill.measures),
        "clips": sorted({example.digest for example in drill.examples}),
        "taught_by": drill.taught_by or None,
        "taught_on": drill.taught_on,
    }


def _check_no_ranges(name: str) -> None:
    """Raise `DrillError` if target ranges of a drill exist; they would lose their meaning."""
    from pipeline.targets.load import coach_targets_path, load_targets

    path = coach_targets_path()
    if path is None:
        return
    if any(place.move == name for place, _ in load_targets(path).layers[-1].entries):
        raise DrillError.of("ranges_of_drill", name=name, file=path.name, path=str(path))


LONGEST_BY = 60
_EVENT = re.compile(r"[a-z][a-z0-9_]{0,30}")


@command("teach", help="teach")
@click.argument("name", metavar="NAME")
@click.argument("clip", metavar="CLIP", type=click.Path(path_type=Path))
@option("--reps", required=True, metavar="START-STOP,...", help="teach.reps")
@option("--events", multiple=True, metavar="EVENT=TIME,...", help="teach.events")
@option("--like", metavar="MOVE", shell_complete=complete_move, help="teach.like")
@option("--by", metavar="NAME", default="", help="teach.by")
@option("--stature", metavar="METRES", help="options.stature")
@option("--replace", is_flag=True, help="teach.replace")
@option(
    "--cache", metavar="FOLDER", default="out/.cache", show_default=True,
    type=click.Path(path_type=Path), help="teach.cache",
)  # fmt: skip
@debug_option
@click.pass_context
def teach(context: click.Context, /, name: str, clip: Path, debug: bool, **options: Any) -> None:  # noqa: ANN401
    """Teach a move or drill of your own from three or more examples in a clip."""
    try:
        from pipeline.feedback.words import load_words

        words = load_words()
        taught = _taught(name, clip, words, **options)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    click.echo("\n  ".join(_taught_lines(taught, words.texts)))


def read_reps(text: str) -> tuple[tuple[float, float], ...]:
    """Parse reps such as ``12.4-14.1,18.0-19.9``.

    Raises
    ------
    DrillError
        One of them is not a pair of times, or stops before it starts.
    """
    windows_s = []
    for part in text.split(","):
        start, _, stop = part.strip().partition("-")
        start_s, stop_s = _seconds(start), _seconds(stop)
        if not start_s < stop_s:
            raise DrillError.of("no_rep_window", part=part.strip())
        windows_s.append((start_s, stop_s))
    return tuple(windows_s)


def read_events(texts: Sequence[str]) -> dict[str, tuple[float, ...]]:
    """Parse events such as ``release=13.6,19.5``.

    Raises
    ------
    DrillError
        One of them has no name, a repeated name, or no times.
    """
    events_s: dict[str, tuple[float, ...]] = {}
    for text in texts:
        name, _, times = text.partition("=")
        instants_s = tuple(_seconds(part) for part in times.split(","))
        wrong = not _EVENT.fullmatch(name) or name in ("start", "finish", *events_s)
        if wrong or any(math.isnan(instant_s) for instant_s in instants_s):
            raise DrillError.of("no_event_times", text=text)
        events_s[name] = instants_s
    return events_s


def _seconds(text: str) -> float:
    """Parse a time in s; NaN if it is not valid."""
    try:
        value = float(text)
    except ValueError:
        return math.nan
    return value if math.isfinite(value) and value >= 0.0 else math.nan


def _taught(
    name: str,
    clip: Path,
    words: Words,
    *,
    reps: str,
    events: Sequence[str],
    like: str | None,
    by: str,
    stature: str | None,
    replace: bool,
    cache: Path,
) -> Taught:
    """Learn and store a drill; raises `CrossemetryError`."""
    check_drill_name(name)
    known = {other.casefold(): other for other in drill_names()}
    if name.casefold() in known and not replace:
        raise DrillError.of("drill_taught_already", name=known[name.casefold()])
    if like is not None and like not in known_moves():
        raise SettingsError.of("like_no_own_move", move=like, nearest=nearest(like, known_moves()))
    if len(by) > LONGEST_BY or not by.isprintable():
        raise SettingsError.of("no_name_to_keep", longest=LONGEST_BY)
    windows_s, events_s = read_reps(reps), read_events(events)
    given = GivenSettings(
        stature_m=None if stature is None else check_stature_m(stature, named="--stature")
    )
    settings = allowed_settings(clip, given)
    LogRequest().note_folders(clip, settings.athlete, out=None, cache=cache)
    # Slow imports come after the checks, so that a mistyped option fails at once.
    from pipeline.commands.terminal import progress_bar
    from pipeline.teaching.drill_examples import Marked
    from pipeline.teaching.drill_store import forget_drill, save_drill
    from pipeline.teaching.teach import teach_from_clip

    with progress_bar(clip.name, words) as on_progress:
        taught = teach_from_clip(
            name,
            clip,
            Marked(windows_s=windows_s, events_s=events_s),
            settings,
            cache_dir=cache,
            like=like,
            taught_by=by.strip(),
            taught_on=date.today().isoformat(),
            on_progress=on_progress,
        )
    if known.get(name.casefold(), name) != name:
        forget_drill(name)  # some file systems ignore the case of names
    save_drill(taught.drill)
    return taught


def _taught_lines(taught: Taught, texts: Texts) -> list[str]:
    """Summarise a taught drill, and its detection on its own clip."""
    drill = taught.drill
    lines = [
        texts.text(
            "teach_output.taught", name=drill.name, n=len(drill.examples), again=taught.again
        )
    ]
    lines += [
        texts.text("teach_output.unlike", start=start_s, stop=stop_s)
        for start_s, stop_s in taught.unlike
    ]
    lines += [
        texts.text("teach_output.elsewhere", start=rep.start_s, stop=rep.stop_s)
        for rep in taught.elsewhere
    ]
    lines += [
        texts.text("teach_output.agree", event=texts.named("events", event), u=u_s)
        for event, u_s in drill.event_u_s.items()
    ]
    lines.append(texts.text("teach_output.measured", measures=_measures_text(drill, texts)))
    lines.append(texts.text("teach_output.use", name=drill.name))
    return lines


def _measures_text(drill: Drill, texts: Texts) -> str:
    if drill.like is not None:
        return texts.text("teach_output.as_in", move=drill.like)
    return ", ".join(drill.measures) or texts.text("teach_output.nothing")
