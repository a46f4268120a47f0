"""The commands that correct reps, learn from the corrections, and take back what was learned."""

from __future__ import annotations

import json
import math
from dataclasses import asdict
from datetime import datetime, timezone
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline.command import debug_option, say
from pipeline.completing import complete_move
from pipeline.errors import CrossemetryError, SettingsError
from pipeline.help_texts import group, option
from pipeline.measures.table import known_moves
from pipeline.toml_file import nearest

if TYPE_CHECKING:
    from pipeline.correcting import Learned
    from pipeline.corrections import Correction

LONGEST_BY = 60
NOT_A_REP, UNKNOWN = "not_a_rep", "unknown"
_BY = option("--by", required=True, metavar="NAME", help="corrections.by")


@group("corrections", help="corrections", invoke_without_command=True)
@option("--json", "as_json", is_flag=True, help="options.list_json")
@debug_option
@click.pass_context
def corrections(context: click.Context, /, as_json: bool, debug: bool) -> None:
    """Correct what the program found; alone, list what was corrected and learned."""
    if context.invoked_subcommand is not None:
        return
    try:
        from pipeline.corrections_store import load_corrections
        from pipeline.team_versions import load_versions

        made, versions = load_corrections().made, load_versions()
    except CrossemetryError as error:
        context.exit(say(error, debug=debug))
    if as_json:
        document = {
            "schema": "crossemetry.corrections/1",
            "corrections": [_as_dict(one) for one in made],
            "in_force": versions.current,
            "versions": [asdict(version) for version in versions.learned],
        }
        click.echo(json.dumps(document, indent=2))
        return
    lines = [_line(one) for one in made] or ["No corrections were made yet."]
    lines.append(_in_force(versions.current))
    click.echo("\n".join(lines))


@corrections.command("add", help="corrections.add")
@click.argument("reps_json", metavar="REPS_JSON", type=click.Path(path_type=Path))
@option("--rep", required=True, type=int, metavar="N", help="corrections.add.rep")
@option("--move", metavar="MOVE", shell_complete=complete_move, help="corrections.add.move")
@option("--split-at", type=float, metavar="SECONDS", help="corrections.add.split_at")
@option("--join-with", type=int, metavar="N", help="corrections.add.join_with")
@_BY
@option("--clip", metavar="FILE", type=click.Path(path_type=Path), help="corrections.add.clip")
@option("--cache", metavar="FOLDER", type=click.Path(path_type=Path), help="corrections.add.cache")
@debug_option
@click.pass_context
def add(
    context: click.Context,
    /,
    reps_json: Path,
    rep: int,
    move: str | None,
    split_at: float | None,
    join_with: int | None,
    by: str,
    clip: Path | None,
    cache: Path | None,
    debug: bool,
) -> None:
    """Say what a rep of an earlier analysis really is."""
    try:
        _check(move, split_at, join_with, by)
        # Only now the slow imports: a mistyped option is answered at once.
        from pipeline.correcting import Asked, correct

        asked = Asked(
            rep=rep, move=move, split_at_s=split_at, join_with=join_with, by=by.strip(), at=_now()
        )
        cache_dir = cache or reps_json.parent.parent / ".cache"
        made = correct(reps_json, asked, clip_path=clip, cache_dir=cache_dir)
    except CrossemetryError as error:
        context.exit(say(error, debug=debug))
    click.echo(f"{_line(made)}\nLearn from it: crossemetry corrections retrain --by {by.strip()}")


@corrections.command("retrain", help="corrections.retrain")
@_BY
@option("--anyway", is_flag=True, help="corrections.retrain.anyway")
@debug_option
@click.pass_context
def retrain(context: click.Context, /, by: str, anyway: bool, debug: bool) -> None:
    """Learn from all corrections, and use it if it is not worse on film held out."""
    try:
        _check(None, None, None, by)
        from pipeline.correcting import retrain as learn

        learned = learn(by=by.strip(), at=_now(), anyway=anyway)
    except CrossemetryError as error:
        context.exit(say(error, debug=debug))
    click.echo("\n".join(_told(learned)))


@corrections.command("undo", help="corrections.undo")
@debug_option
@click.pass_context
def undo(context: click.Context, /, debug: bool) -> None:
    """Go back to what was in force before the last `retrain`. Corrections stay."""
    try:
        from pipeline.team_versions import take_back

        was, now = take_back()
    except CrossemetryError as error:
        context.exit(say(error, debug=debug))
    click.echo(f"Version {was} is taken back. {_in_force(now)}")


def _check(move: str | None, split_at: float | None, join_with: int | None, by: str) -> None:
    """Raise `SettingsError` for options that cannot be meant."""
    allowed = (*known_moves(), NOT_A_REP, UNKNOWN)
    if move is not None and move not in allowed:
        raise SettingsError(
            f"--move: '{move}' is nothing that a rep can be.", what_to_do=nearest(move, allowed)
        )
    if (split_at is not None) + (join_with is not None) > 1:
        raise SettingsError(
            "--split-at and --join-with contradict each other.", what_to_do="Give one of them."
        )
    if move == NOT_A_REP and (split_at is not None or join_with is not None):
        raise SettingsError(
            "--move not_a_rep: what is no rep is not split or joined.",
            what_to_do="Dismiss each rep by itself.",
        )
    if not 0 < len(by.strip()) <= LONGEST_BY or not by.isprintable():
        raise SettingsError(
            "--by: not a name that can be kept.",
            what_to_do=f"Give up to {LONGEST_BY} letters, digits and signs.",
        )


def _now() -> str:
    return datetime.now(tz=timezone.utc).strftime("%Y-%m-%dT%H:%M:%SZ")


def _line(one: Correction) -> str:
    windows = " and ".join(f"{start_s:.1f} to {stop_s:.1f} s" for start_s, stop_s in one.windows_s)
    said = {
        "relabelled": f"{one.label}, found as {one.was}",
        "confirmed": f"{one.label}, as it was found",
        "dismissed": f"not a rep, found as {one.was}",
        "split": f"two reps of {one.label}, found as one",
        "joined": f"one rep of {one.label}, found as two",
    }[one.kind]
    return f"{one.clip[:8]} {windows}: {said} ({one.by}, {one.at[:10]})"


def _in_force(number: int) -> str:
    if number == 0:
        return "In force: the shipped classifier alone."
    return f"In force: version {number} of what was learned, over the shipped classifier."


def _told(learned: Learned) -> list[str]:
    version, result = learned.version, learned.held_out
    lines = [
        f"Version {version.number}: learned from {version.n_corrections} corrections in "
        f"{version.n_films} {'film' if version.n_films == 1 else 'films'}."
    ]
    if result.n:
        lines.append(
            f"Held out, film by film: {result.right_before} of {result.n} named rightly before, "
            f"{result.right_after} after."
        )
        if not math.isnan(result.changed):
            lines.append(f"Of what nobody corrected {result.changed:.1%} is named otherwise.")
    if learned.in_force:
        lines.append("In force now. Go back: crossemetry corrections undo.")
    else:
        lines.append(f"Not in force: {learned.why_not}. To use it all the same: --anyway.")
    return lines


def _as_dict(one: Correction) -> dict[str, Any]:
    return {
        "kind": one.kind,
        "was": one.was,
        "label": one.label,
        "windows_s": [list(window_s) for window_s in one.windows_s],
        "clip": one.clip,
        "by": one.by,
        "at": one.at,
    }
