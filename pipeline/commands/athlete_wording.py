"""Says what is known of an athlete: in words, and as plain data."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pipeline.commands.shared import plain

if TYPE_CHECKING:
    from pipeline.feedback.words import Words
    from pipeline.log.athletes import Athlete


def say_athlete(words: Words, athlete: Athlete) -> str:
    """Say in one line who an athlete is."""
    facts = []
    if athlete.birth_year is not None:
        facts.append(words.text("athlete_told.born", year=athlete.birth_year))
    if athlete.minor is not None:
        facts.append(words.text(f"athlete_told.{'minor' if athlete.minor else 'adult'}"))
    if athlete.statures:
        facts.append(words.text("athlete_told.stature", stature=athlete.statures[-1][1]))
    if athlete.stick_hand:
        facts.append(words.text(f"athlete_told.top_hand_{athlete.stick_hand}"))
    if athlete.level:
        level = words.texts.named("levels", athlete.level)
        facts.append(words.text("athlete_told.level", level=level))
    said = ", ".join(facts) or words.text("athlete_told.nothing_told")
    return plain(words.text("athlete_told.facts", name=athlete.name, facts=said))


def say_all(words: Words, athlete: Athlete) -> str:
    """Say all that is known of an athlete."""
    lines = []
    for since, stature in athlete.statures:
        day = since.isoformat()
        lines.append(words.text("athlete_told.stature_since", stature=stature, day=day))
    for consent in athlete.consents:
        parts = {"by": consent.given_by, "day": consent.given_on.isoformat()}
        if consent.until is None:
            lines.append(words.text("athlete_told.allowed", **parts))
        else:
            until = consent.until.isoformat()
            lines.append(words.text("athlete_told.allowed_until", until=until, **parts))
    return "\n".join([say_athlete(words, athlete), *(plain(f"  {line}") for line in lines)])


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
