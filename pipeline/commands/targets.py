"""The commands on target ranges: check a file, show the ranges in force, and their history."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline.commands.help import group, option
from pipeline.commands.installation import complete_move
from pipeline.commands.shared import debug_option, json_option, plain, report_error
from pipeline.commands.targets_options import (
    Who,
    checked_measure,
    checked_moves,
    checked_who,
    file_option,
    who_options,
)
from pipeline.commands.targets_set import set_command, undo
from pipeline.commands.targets_suggest import suggest_command
from pipeline.core.errors import CrossemetryError
from pipeline.settings.checks import check_stature_m

if TYPE_CHECKING:
    from pipeline.targets.history import Record
    from pipeline.targets.lookup import Targets


@group("targets", help="targets")
def targets() -> None:
    """Manage the target ranges that numbers are compared with."""


targets.add_command(set_command)
targets.add_command(undo)
targets.add_command(suggest_command)


@targets.command("check", help="targets.check")
@click.argument("file", type=click.Path(path_type=Path))
@debug_option
@click.pass_context
def check(context: click.Context, /, file: Path, debug: bool) -> None:
    """Check a file of target ranges, and report what is wrong in it."""
    try:
        from pipeline.feedback.words import load_words
        from pipeline.targets.load import load_targets

        words = load_words()
        load_targets(file)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    click.echo(words.text("targets_output.usable", file=file.name))


@targets.command("show", help="targets.show")
@option("--move", metavar="MOVE", shell_complete=complete_move, help="targets.show.move")
@who_options
@option("--stature", metavar="METRES", help="targets.show.stature")
@option("--as-of", metavar="VERSION", help="targets.show.as_of")
@file_option
@json_option
@debug_option
@click.pass_context
def show(
    context: click.Context,
    /,
    move: str | None,
    level: str | None,
    hand: str | None,
    athlete: str | None,
    stature: str | None,
    as_of: str | None,
    file_path: Path | None,
    as_json: bool,
    debug: bool,
) -> None:
    """Show the ranges in force for a player, and the source of each."""
    try:
        moves = checked_moves(move)
        who = checked_who(level, hand, athlete)
        stature_m = None if stature is None else check_stature_m(stature, named="--stature")
        text = _shown(_loaded(file_path, as_of), moves, who, stature_m, as_json=as_json)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    click.echo(text)


@targets.command("history", help="targets.history")
@option("--move", metavar="MOVE", shell_complete=complete_move, help="targets.history.move")
@option("--measure", metavar="MEASURE", help="targets.history.measure")
@option("--athlete", metavar="NAME", help="targets.history.athlete")
@file_option
@json_option
@debug_option
@click.pass_context
def history(
    context: click.Context,
    /,
    move: str | None,
    measure: str | None,
    athlete: str | None,
    file_path: Path | None,
    as_json: bool,
    debug: bool,
) -> None:
    """List who changed which range, when and why, oldest first."""
    try:
        moves = checked_moves(move)
        if measure is not None and move is not None:
            checked_measure(move, measure)
        who = checked_who(None, None, athlete)
        found = _records(file_path)
        from pipeline.feedback.words import load_words

        words = load_words()
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    from pipeline.commands.targets_wording import history_text
    from pipeline.targets.entries import athlete_key

    narrow = move is not None or measure is not None or who.athlete is not None
    records = [
        record
        for record in found
        if not narrow
        or (
            record.move in moves
            and measure in (None, record.measure)
            and (who.athlete is None or athlete_key(record.athlete) == athlete_key(who.athlete))
        )
    ]
    if as_json:
        click.echo(json.dumps([asdict(record) for record in records], indent=2))
    else:
        click.echo(history_text(records, words) or words.text("targets_output.no_change"))


def _loaded(named: Path | None, as_of: str | None) -> Targets:
    """Read the present ranges, or those of an earlier version."""
    from pipeline.targets.load import coach_targets_path, load_targets, targets_of

    path = coach_targets_path(named)
    if as_of is None:
        return load_targets(path)
    from pipeline.core.toml_file import parse_toml
    from pipeline.targets.file import check_targets_file
    from pipeline.targets.history import history_path, record_of

    path = path or _coach_file()
    record = record_of(_records(named), as_of, path=history_path(path))
    return targets_of(check_targets_file(parse_toml(path, record.text)))


def _records(named: Path | None) -> list[Record]:
    from pipeline.targets.history import history_path, read_history

    return read_history(history_path(named or _coach_file()))


def _coach_file() -> Path:
    from pipeline.core.files import data_folder
    from pipeline.targets.load import COACH_FILE

    return data_folder() / COACH_FILE


def _shown(
    loaded: Targets, moves: Sequence[str], who: Who, stature_m: float | None, *, as_json: bool
) -> str:
    from pipeline.commands.targets_wording import (
        ranges_in_force,
        ranges_json,
        ranges_text,
        stature_or_nan,
    )
    from pipeline.feedback.words import load_words
    from pipeline.targets.entries import COACH, athlete_key
    from pipeline.targets.load import places_of, ranges_used

    if stature_m is not None:
        loaded.check(places_of(loaded, athlete_key(who.athlete or "any")), stature_m)
    used = ranges_used(loaded)
    stature = stature_or_nan(stature_m)
    ranges = ranges_in_force(loaded, moves, who.level, who.hand, who.athlete)
    if as_json:
        document: dict[str, Any] = {
            "version": asdict(used),
            **asdict(who),
            "stature_m": stature_m,
            "ranges": ranges_json(ranges, stature),
        }
        return json.dumps(document, indent=2)
    words = load_words()
    whose = str(loaded.layers[-1].file.path)
    if used.source != COACH:
        whose = words.text("targets_output.as_shipped")
    named = "targets_output.whose_changed" if used.changed else "targets_output.whose"
    lines = [words.text(named, whose=whose, digest=used.digest, changed=used.changed)]
    names = {place.athlete for layer in loaded.layers for place, _ in layer.entries}
    if who.athlete is not None and athlete_key(who.athlete) not in names:
        lines.append(words.text("targets_output.no_own", athlete=plain(who.athlete)))
    return "\n".join([*lines, ranges_text(ranges, stature, words)])
