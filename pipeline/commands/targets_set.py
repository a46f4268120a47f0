"""The commands that change target ranges: set one, undo the last change."""

from __future__ import annotations

import math
from datetime import datetime, timezone
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline.commands.help import command, option
from pipeline.commands.installation import complete_move
from pipeline.commands.shared import debug_option, plain, report_error
from pipeline.commands.targets_options import (
    checked_measure,
    checked_text,
    checked_who,
    file_to_write,
    sign_options,
    who_options,
)
from pipeline.core.errors import CrossemetryError, SettingsError
from pipeline.settings.checks import DEFAULT_LEVEL
from pipeline.targets.entries import INHERIT, OPEN, SCALES

if TYPE_CHECKING:
    from pipeline.measures import MeasureInfo
    from pipeline.targets.history import Record
    from pipeline.targets.store import Signed


@command("set", help="targets.set")
@click.argument("move", shell_complete=complete_move)
@click.argument("measure")
@option("--low", metavar="X", help="targets.set.low")
@option("--high", metavar="Y", help="targets.set.high")
@option("--of", metavar="LENGTH", help="targets.set.of")
@option("--no-range", is_flag=True, help="targets.set.no_range")
@who_options
@sign_options
@debug_option
@click.pass_context
def set_command(
    context: click.Context,
    /,
    move: str,
    measure: str,
    low: str | None,
    high: str | None,
    of: str | None,
    no_range: bool,
    level: str | None,
    hand: str | None,
    athlete: str | None,
    by: str,
    why: str,
    file_path: Path | None,
    debug: bool,
) -> None:
    """Set a target range, or one bound of it, and record who did so and why."""
    try:
        info = checked_measure(move, measure)
        who = checked_who(level, hand, athlete)
        new = _checked_bounds(info, low=low, high=high, of=of, no_range=no_range)
        signed = _signed(by, why)
        from pipeline.targets.edit import merged_entry
        from pipeline.targets.entries import Scope
        from pipeline.targets.store import set_range

        record = set_range(
            file_to_write(file_path),
            Scope(move, who.level, who.hand or DEFAULT_LEVEL, who.athlete or DEFAULT_LEVEL),
            info.key,
            lambda old: merged_entry(old, new, by=signed.by, why=signed.why),
            signed,
        )
        text = _change_text(record, file_path)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    click.echo(text)


@command("undo", help="targets.undo")
@sign_options
@debug_option
@click.pass_context
def undo(context: click.Context, /, by: str, why: str, file_path: Path | None, debug: bool) -> None:
    """Undo the last change of a target range; a second undo restores it."""
    try:
        from pipeline.targets.store import undo as undo_last

        record = undo_last(file_to_write(file_path), _signed(by, why))
        text = _change_text(record, file_path)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    click.echo(text)


def _checked_bounds(
    info: MeasureInfo, *, low: str | None, high: str | None, of: str | None, no_range: bool
) -> dict[str, Any]:
    given = {side: typed for side, typed in (("low", low), ("high", high)) if typed is not None}
    if no_range and (given or of):
        raise SettingsError.of("no_range_and_bound")
    if no_range:
        return {"no_range": True}
    if not given:
        raise SettingsError.of("no_bound_given", measure=info.key)
    return {side: _checked_bound(info, side, typed, of) for side, typed in given.items()}


def _checked_bound(
    info: MeasureInfo, side: str, typed: str, of: str | None
) -> tuple[str, Any] | None:
    if typed == INHERIT:
        return None
    if typed == OPEN:
        return side, OPEN
    word = info.unit_word
    if of is not None:
        if info.unit != "m":
            raise SettingsError.of("never_a_fraction", of=of, measure=info.key, unit=word)
        if of not in SCALES:
            one, other = SCALES
            raise SettingsError.of("not_a_fraction", of=of, measure=info.key, one=one, other=other)
        return f"{side}_of_{of}", _number(side, typed, whole=False)
    return f"{side}_{word}", _number(side, typed, whole=info.is_count)


def _number(side: str, typed: str, *, whole: bool) -> float | int:
    try:
        number = float(typed)
    except ValueError:
        number = math.nan
    if not math.isfinite(number) or (whole and number != round(number)):
        wrong = "bound_not_whole" if whole else "bound_not_a_number"
        raise SettingsError.of(wrong, side=side, typed=typed, open=OPEN, inherit=INHERIT)
    return round(number) if whole else number


def _signed(by: str, why: str) -> Signed:
    from pipeline.targets.store import Signed

    return Signed(
        by=checked_text(by, named="--by"),
        why=checked_text(why, named="--why"),
        now=datetime.now(timezone.utc),
    )


def _change_text(record: Record, named: Path | None) -> str:
    from pipeline.commands.targets_wording import changed_words, entry_words
    from pipeline.feedback.words import load_words

    path, words = file_to_write(named), load_words()
    old, new = (words.translate(entry_words(entry)) for entry in (record.old, record.new))
    lines = [
        words.text(
            "targets_output.new", what=plain(words.translate(changed_words(record))), new=new
        ),
        words.text("targets_output.old", old=old),
        words.text("targets_output.version", file=path, digest=record.digest),
    ]
    return "\n  ".join(lines)
