"""The commands on corrections: add one, retrain the classifier, undo a retraining."""

from __future__ import annotations

import json
import math
from dataclasses import asdict
from datetime import datetime, timezone
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline.commands.help import group, option
from pipeline.commands.installation import complete_move
from pipeline.commands.shared import debug_option, report_error
from pipeline.core.errors import CrossemetryError, SettingsError
from pipeline.core.move_table import known_moves
from pipeline.core.toml_file import nearest

if TYPE_CHECKING:
    from pipeline.feedback.words import Words
    from pipeline.teaching.correct import Learned
    from pipeline.teaching.corrections import Correction

LONGEST_BY = 60
NOT_A_REP, UNKNOWN = "not_a_rep", "unknown"
_BY = option("--by", required=True, metavar="NAME", help="corrections.by")


@group("corrections", help="corrections", invoke_without_command=True)
@option("--json", "as_json", is_flag=True, help="options.list_json")
@debug_option
@click.pass_context
def corrections(context: click.Context, /, as_json: bool, debug: bool) -> None:
    """Correct detected reps; without a subcommand, list corrections and versions."""
    if context.invoked_subcommand is not None:
        return
    try:
        from pipeline.feedback.words import load_words
        from pipeline.teaching.classifier_versions import load_versions
        from pipeline.teaching.corrections_store import load_corrections

        words = load_words()
        made, versions = load_corrections().made, load_versions()
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    if as_json:
        document = {
            "schema": "crossemetry.corrections/1",
            "corrections": [_as_dict(one) for one in made],
            "in_force": versions.current,
            "versions": [asdict(version) for version in versions.learned],
        }
        click.echo(json.dumps(document, indent=2))
        return
    lines = [_line(one, words) for one in made] or [words.text("corrections_output.none")]
    lines.append(_in_force(versions.current, words))
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
    """Correct a rep of an earlier analysis."""
    try:
        _check(move, split_at, join_with, by)
        # Slow imports come after the checks, so that a mistyped option fails at once.
        from pipeline.feedback.words import load_words
        from pipeline.teaching.correct import CorrectionRequest, correct

        words = load_words()
        request = CorrectionRequest(
            rep=rep, move=move, split_at_s=split_at, join_with=join_with, by=by.strip(), at=_now()
        )
        cache_dir = cache or reps_json.parent.parent / ".cache"
        made = correct(reps_json, request, clip_path=clip, cache_dir=cache_dir)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    click.echo(_line(made, words))
    click.echo(words.text("corrections_output.learn", by=by.strip()))


@corrections.command("retrain", help="corrections.retrain")
@_BY
@option("--anyway", is_flag=True, help="corrections.retrain.anyway")
@debug_option
@click.pass_context
def retrain(context: click.Context, /, by: str, anyway: bool, debug: bool) -> None:
    """Retrain on all corrections; use the result if it is not worse on held-out film."""
    try:
        _check(None, None, None, by)
        from pipeline.feedback.words import load_words
        from pipeline.teaching.correct import retrain as learn

        words = load_words()
        learned = learn(by=by.strip(), at=_now(), anyway=anyway)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    click.echo("\n".join(_learned_lines(learned, words)))


@corrections.command("undo", help="corrections.undo")
@debug_option
@click.pass_context
def undo(context: click.Context, /, debug: bool) -> None:
    """Return to the version before the last `retrain`. Corrections stay."""
    try:
        from pipeline.feedback.words import load_words
        from pipeline.teaching.classifier_versions import take_back

        words = load_words()
        was, now = take_back()
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    taken_back = words.text("corrections_output.taken_back", version=was)
    click.echo(f"{taken_back} {_in_force(now, words)}")


def _check(move: str | None, split_at: float | None, join_with: int | None, by: str) -> None:
    """Raise `SettingsError` for options that are not valid together or alone."""
    allowed = (*known_moves(), NOT_A_REP, UNKNOWN)
    if move is not None and move not in allowed:
        near = nearest(move, allowed)
        raise SettingsError.of("nothing_a_rep_can_be", move=move, nearest=near)
    if (split_at is not None) + (join_with is not None) > 1:
        raise SettingsError.of("split_and_join")
    if move == NOT_A_REP and (split_at is not None or join_with is not None):
        raise SettingsError.of("no_rep_and_parts")
    if not 0 < len(by.strip()) <= LONGEST_BY or not by.isprintable():
        raise SettingsError.of("no_name_to_keep", longest=LONGEST_BY)


def _now() -> str:
    return datetime.now(tz=timezone.utc).strftime("%Y-%m-%dT%H:%M:%SZ")


def _line(one: Correction, words: Words) -> str:
    from pipeline.feedback.words import listed

    spans = [
        words.text("corrections_output.span", start=start_s, stop=stop_s)
        for start_s, stop_s in one.windows_s
    ]
    return words.text(
        "corrections_output.line",
        clip=one.clip[:8],
        spans=listed(words, spans),
        what=words.text(f"corrections_output.{one.kind}", label=one.label, was=one.was),
        by=one.by,
        day=one.at[:10],
    )


def _in_force(number: int, words: Words) -> str:
    if number == 0:
        return words.text("corrections_output.shipped_in_force")
    return words.text("corrections_output.version_in_force", version=number)


def _learned_lines(learned: Learned, words: Words) -> list[str]:
    version, result = learned.version, learned.held_out
    lines = [
        words.text(
            "corrections_output.learned",
            version=version.number,
            n=version.n_corrections,
            films=version.n_films,
        )
    ]
    if result.n:
        lines.append(
            words.text(
                "corrections_output.held_out",
                n=result.n,
                before=result.right_before,
                after=result.right_after,
            )
        )
        if not math.isnan(result.changed):
            lines.append(words.text("corrections_output.changed", changed=result.changed))
    if learned.in_force:
        lines.append(words.text("corrections_output.used"))
    else:
        lines.append(words.text("corrections_output.not_used", why=learned.why_not))
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
