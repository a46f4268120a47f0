"""The commands on athletes: add, set, list and show."""

from __future__ import annotations

import json
from datetime import datetime, timezone
from typing import TYPE_CHECKING, Any

import click

from pipeline.commands.help import Decorated, group, option
from pipeline.commands.log_options import (
    EARLIEST_BIRTH_YEAR,
    checked_day,
    checked_note,
    database_option,
)
from pipeline.commands.personal import erase, export_personal
from pipeline.commands.shared import debug_option, json_option, plain, report_error
from pipeline.core.errors import CrossemetryError, SettingsError
from pipeline.settings.checks import LEVELS, check_athlete, check_stature_m

if TYPE_CHECKING:
    from pipeline.feedback.words import Words
    from pipeline.log.athletes import Athlete, Consent


def athlete_line(words: Words, athlete: Athlete) -> str:
    """Describe an athlete in one line."""
    facts = []
    if athlete.birth_year is not None:
        facts.append(words.text("athlete_output.born", year=athlete.birth_year))
    if athlete.minor is not None:
        facts.append(words.text(f"athlete_output.{'minor' if athlete.minor else 'adult'}"))
    if athlete.statures:
        facts.append(words.text("athlete_output.stature", stature=athlete.statures[-1][1]))
    if athlete.stick_hand:
        facts.append(words.text(f"athlete_output.top_hand_{athlete.stick_hand}"))
    if athlete.level:
        level = words.texts.named("levels", athlete.level)
        facts.append(words.text("athlete_output.level", level=level))
    listed = ", ".join(facts) or words.text("athlete_output.nothing_told")
    return plain(words.text("athlete_output.facts", name=athlete.name, facts=listed))


def athlete_lines(words: Words, athlete: Athlete) -> str:
    """Describe all that is known of an athlete, in several lines."""
    lines = []
    for since, stature in athlete.statures:
        day = since.isoformat()
        lines.append(words.text("athlete_output.stature_since", stature=stature, day=day))
    for consent in athlete.consents:
        parts = {"by": consent.given_by, "day": consent.given_on.isoformat()}
        if consent.until is None:
            lines.append(words.text("athlete_output.allowed", **parts))
        else:
            until = consent.until.isoformat()
            lines.append(words.text("athlete_output.allowed_until", until=until, **parts))
    return "\n".join([athlete_line(words, athlete), *(plain(f"  {line}") for line in lines)])


def athlete_document(athlete: Athlete) -> dict[str, Any]:
    """Give all that is known of an athlete as plain data."""
    return {
        "name": athlete.name,
        "birth_year": athlete.birth_year,
        "minor": athlete.minor,
        "stick_hand": athlete.stick_hand,
        "level": athlete.level,
        "statures": [
            {"since": since.isoformat(), "stature_m": stature}
            for since, stature in athlete.statures
        ],
        "consents": [
            {
                "given_by": consent.given_by,
                "given_on": consent.given_on.isoformat(),
                "until": None if consent.until is None else consent.until.isoformat(),
            }
            for consent in athlete.consents
        ],
    }


@group("athlete", help="athlete")
def athlete() -> None:
    """Manage athletes of the training log: facts, statures, and consent to filming."""


athlete.add_command(export_personal)
athlete.add_command(erase)


def _facts_options(command: Decorated) -> Decorated:
    hands = click.Choice(["left", "right"])
    options = (
        option("--birth-year", type=int, metavar="YEAR", help="athlete.facts.birth_year"),
        option("--stature", metavar="METRES", help="athlete.facts.stature"),
        option("--since", metavar="DATE", help="athlete.facts.since"),
        option("--stick-hand", type=hands, help="athlete.facts.stick_hand"),
        option("--level", type=click.Choice(LEVELS[1:]), help="athlete.facts.level"),
        option("--minor/--adult", default=None, help="athlete.facts.minor"),
        option("--consent-by", metavar="WHO", help="athlete.facts.consent_by"),
        option("--consent-on", metavar="DATE", help="athlete.facts.consent_on"),
        option("--consent-until", metavar="DATE", help="athlete.facts.consent_until"),
        database_option,
        debug_option,
    )
    for add in reversed(options):
        command = add(command)
    return command


@athlete.command("add", help="athlete.add")
@click.argument("name")
@_facts_options
@click.pass_context
def add(
    context: click.Context,
    /,
    name: str,
    database: str | None,
    debug: bool,
    **options: Any,  # noqa: ANN401
) -> None:
    """Add an athlete, by a name or a code."""
    try:
        name = check_athlete(name, named="NAME")
        facts, stature, consent = _checked(**options)
        from pipeline.feedback.words import load_words
        from pipeline.log.athletes import add_athlete, athlete_of, note_consent, note_stature
        from pipeline.log.store import opened_log

        words, now = load_words(), datetime.now(tz=timezone.utc)
        with opened_log(database) as store, store.writing() as connection:
            number = add_athlete(connection, name, now, facts)
            if stature is not None:
                note_stature(connection, number, *stature)
            if consent is not None:
                note_consent(connection, number, consent, now)
            known = athlete_of(connection, number)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    click.echo(athlete_lines(words, known))


@athlete.command("set", help="athlete.set")
@click.argument("name")
@option("--rename", metavar="NAME", help="athlete.set.rename")
@_facts_options
@click.pass_context
def set_command(
    context: click.Context,
    /,
    name: str,
    rename: str | None,
    database: str | None,
    debug: bool,
    **options: Any,  # noqa: ANN401 - as click names them
) -> None:
    """Change what is known of an athlete; omitted options change nothing."""
    try:
        facts, stature, consent = _checked(**options)
        if rename is not None:
            facts["name"] = check_athlete(rename, named="--rename")
        from pipeline.feedback.words import load_words
        from pipeline.log.athletes import (
            athlete_of,
            change_athlete,
            find_athlete,
            note_consent,
            note_stature,
        )
        from pipeline.log.store import opened_log

        words = load_words()
        with opened_log(database) as store, store.writing() as connection:
            number = find_athlete(connection, name).id
            change_athlete(connection, number, facts)
            if stature is not None:
                note_stature(connection, number, *stature)
            if consent is not None:
                note_consent(connection, number, consent, datetime.now(tz=timezone.utc))
            known = athlete_of(connection, number)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    click.echo(athlete_lines(words, known))


@athlete.command("list", help="athlete.list")
@json_option
@database_option
@debug_option
@click.pass_context
def list_command(
    context: click.Context, /, as_json: bool, database: str | None, debug: bool
) -> None:
    """List all athletes of the training log."""
    try:
        from pipeline.feedback.words import load_words
        from pipeline.log.athletes import all_athletes
        from pipeline.log.store import opened_log

        words = load_words()

        with opened_log(database) as store, store.reading() as connection:
            found = all_athletes(connection)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    if as_json:
        document = {
            "schema": "crossemetry.athletes/1",
            "athletes": [athlete_document(a) for a in found],
        }
        click.echo(json.dumps(document, indent=2))
    else:
        lines = [athlete_line(words, one) for one in found]
        click.echo("\n".join(lines) or words.log["nobody"])


@athlete.command("show", help="athlete.show")
@click.argument("name")
@json_option
@database_option
@debug_option
@click.pass_context
def show(
    context: click.Context, /, name: str, as_json: bool, database: str | None, debug: bool
) -> None:
    """Show what is known of an athlete."""
    try:
        from pipeline.feedback.words import load_words
        from pipeline.log.athletes import find_athlete
        from pipeline.log.store import opened_log

        words = load_words()

        with opened_log(database) as store, store.reading() as connection:
            known = find_athlete(connection, name)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    click.echo(
        json.dumps(athlete_document(known), indent=2) if as_json else athlete_lines(words, known)
    )


def _checked(
    *,
    birth_year: int | None,
    stature: str | None,
    since: str | None,
    stick_hand: str | None,
    level: str | None,
    minor: bool | None,
    consent_by: str | None,
    consent_on: str | None,
    consent_until: str | None,
) -> tuple[dict[str, Any], tuple[Any, ...] | None, Consent | None]:
    """Check the options; returns facts, stature with its day, and consent.

    Raises `SettingsError`.
    """
    from pipeline.log.athletes import Consent

    today = datetime.now().astimezone().date()
    if birth_year is not None and not EARLIEST_BIRTH_YEAR <= birth_year <= today.year:
        raise SettingsError.of("not_a_birth_year", year=birth_year)
    if consent_by is None and (consent_on or consent_until):
        raise SettingsError.of("consent_of_nobody")
    facts = {"birth_year": birth_year, "stick_hand": stick_hand, "level": level, "minor": minor}
    tall = None
    if stature is not None:
        day = checked_day(since, named="--since", today=today) or today
        tall = (check_stature_m(stature, named="--stature"), day)
    who = checked_note(consent_by, named="--consent-by", longest=60)
    consent = None
    if who is not None:
        consent = Consent(
            given_by=who,
            given_on=checked_day(consent_on, named="--consent-on", today=today) or today,
            until=checked_day(consent_until, named="--consent-until", today=today, future=True),
        )
    return {key: value for key, value in facts.items() if value is not None}, tall, consent
