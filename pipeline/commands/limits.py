"""The commands on limits: set or remove one, show those in force."""

from __future__ import annotations

import json
from datetime import datetime, timezone
from typing import TYPE_CHECKING, Any

import click

from pipeline.commands.help import group, option
from pipeline.commands.log_options import checked_note, database_option
from pipeline.commands.shared import debug_option, json_option, plain, report_error
from pipeline.core.errors import CrossemetryError
from pipeline.log.counts import COUNTED

if TYPE_CHECKING:
    from pipeline.feedback.words import Words
    from pipeline.log.limits import Limit

PERIODS = ("session", "day", "week")
NONE = "none"


@group("limits", help="limits")
def limits() -> None:
    """Set limits of training volume; the program has none of its own."""


@limits.command("set", help="limits.set")
@click.argument("counted", type=click.Choice(COUNTED))
@click.argument("most", metavar="MOST")
@option("--per", type=click.Choice(PERIODS), required=True, help="limits.set.per")
@option("--athlete", "name", metavar="NAME", help="limits.set.athlete")
@option("--hand", type=click.Choice(["left", "right"]), help="limits.set.hand")
@option("--by", required=True, metavar="NAME", help="limits.set.by")
@option("--why", required=True, metavar="WORDS", help="limits.set.why")
@database_option
@debug_option
@click.pass_context
def set_command(
    context: click.Context,
    /,
    counted: str,
    most: str,
    per: str,
    name: str | None,
    hand: str | None,
    by: str,
    why: str,
    database: str | None,
    debug: bool,
) -> None:
    """Set a limit: MOST is the greatest allowed number, or none to remove the limit."""
    try:
        number = None if most == NONE else _number(most)
        who = checked_note(by, named="--by", longest=60) or ""
        ground = checked_note(why, named="--why") or ""
        from pipeline.feedback.words import load_words
        from pipeline.log.athletes import find_athlete
        from pipeline.log.limits import Limit, set_limit
        from pipeline.log.store import opened_log

        words = load_words()
        with opened_log(database) as store, store.writing() as connection:
            limit = Limit(
                athlete_id=None if name is None else find_athlete(connection, name).id,
                counted=counted,
                per=per,
                hand=hand,
                most=number,
                set_by=who,
                why=ground,
                set_at=datetime.now(tz=timezone.utc),
            )
            set_limit(connection, limit)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    click.echo(plain(_line(words, limit, name)))


@limits.command("show", help="limits.show")
@option("--athlete", "name", metavar="NAME", help="limits.show.athlete")
@option("--history", is_flag=True, help="limits.show.history")
@json_option
@database_option
@debug_option
@click.pass_context
def show(
    context: click.Context,
    /,
    name: str | None,
    history: bool,
    as_json: bool,
    database: str | None,
    debug: bool,
) -> None:
    """Show the limits in force, who set them, when and why."""
    try:
        from pipeline.feedback.words import load_words
        from pipeline.log.athletes import all_athletes, find_athlete
        from pipeline.log.limits import in_force, read_limits
        from pipeline.log.store import opened_log

        words = load_words()
        with opened_log(database) as store, store.reading() as connection:
            names = {athlete.id: athlete.name for athlete in all_athletes(connection)}
            number = None if name is None else find_athlete(connection, name).id
            found = read_limits(connection)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    if history:
        found = [one for one in found if name is None or one.athlete_id in (None, number)]
    elif name is not None:
        found = in_force(found, number)
    else:
        everybody = [None, *names]
        own = [one for who in everybody for one in in_force(found, who) if one.athlete_id == who]
        found = own
    if as_json:
        document = {
            "schema": "crossemetry.limits/1",
            "limits": [_as_dict(one, _name(one, names)) for one in found],
        }
        click.echo(json.dumps(document, indent=2))
        return
    lines = [plain(_line(words, one, _name(one, names))) for one in found]
    click.echo("\n".join(lines) or words.log["limits_none"])


def _name(limit: Limit, names: dict[int, str]) -> str | None:
    return None if limit.athlete_id is None else names[limit.athlete_id]


def _number(typed: str) -> int:
    from pipeline.core.errors import SettingsError

    if not typed.isascii() or not typed.isdigit() or int(typed) > 1_000_000:
        raise SettingsError.of("not_a_number_of_reps", typed=typed, none=NONE)
    return int(typed)


def _line(words: Words, limit: Limit, name: str | None) -> str:
    hand = ""
    if limit.hand is not None:
        hand = words.text("limits_output.of_hand", hand=words.log[limit.hand])
    return words.text(
        "limits_output.no_limit" if limit.most is None else "limits_output.at_most",
        who=name or words.text("limits_output.everybody"),
        most=limit.most,
        counted=words.log[limit.counted],
        per=words.log[f"per_{limit.per}"],
        hand=hand,
        by=limit.set_by,
        date=limit.set_at.date().isoformat(),
        why=limit.why,
    )


def _as_dict(limit: Limit, name: str | None) -> dict[str, Any]:
    return {
        "athlete": name,
        "counted": limit.counted,
        "per": limit.per,
        "hand": limit.hand,
        "most": limit.most,
        "set_by": limit.set_by,
        "why": limit.why,
        "set_at": limit.set_at.isoformat(),
    }
