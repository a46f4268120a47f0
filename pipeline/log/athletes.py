"""Athletes in the training log: personal data, statures, and consents to be filmed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, select, update

from pipeline.core.errors import ConsentError, LogError
from pipeline.core.toml_file import nearest
from pipeline.log.schema import ATHLETES, CONSENTS, STATURES, insert_row
from pipeline.targets.entries import athlete_key

OF_AGE_YEARS = 18
"""Age of majority: younger athletes need a consent, unless the log marks them as of age."""

SAME_STATURE_M = 0.004
"""Statures closer than this are equal: they are given to the centimetre."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Consent:
    """A consent to film an athlete: by whom, since when, until when (None = until withdrawn)."""

    given_by: str
    given_on: date
    until: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Athlete:
    """One athlete.

    Attributes
    ----------
    id, name
        Number in the log, and name or code as written.
    birth_year, stick_hand, level
        None = unknown.
    minor
        Whether they are under age, if set by the user; None = the year of birth decides.
    statures
        First day of validity, and stature in metres, oldest first.
    consents
        Oldest first; the last one is valid.
    """

    id: int
    name: str
    birth_year: int | None = None
    stick_hand: str | None = None
    level: str | None = None
    minor: bool | None = None
    statures: tuple[tuple[date, float], ...] = ()
    consents: tuple[Consent, ...] = field(default_factory=tuple)

    def stature_m(self, day: date) -> float | None:
        """Return the stature on a day: the last one known by then, else the first one, m."""
        known = [stature for since, stature in self.statures if since <= day]
        return known[-1] if known else next((s for _, s in self.statures), None)

    def is_minor(self, day: date) -> bool | None:
        """Whether they are under age on a day; None = unknown.

        Only the year of birth is stored, so an athlete who may still be 17 counts as a minor.
        """
        if self.minor is not None:
            return self.minor
        return None if self.birth_year is None else day.year - self.birth_year <= OF_AGE_YEARS


def add_athlete(
    connection: Connection, name: str, now: datetime, facts: Mapping[str, Any] | None = None
) -> int:
    """Add an athlete and return the number; `facts` holds further columns of the table.

    Raises
    ------
    LogError
        The name is in the log already.
    """
    if _number_of(connection, name) is not None:
        raise LogError.of("athlete_there_already", name=name)
    row = {"name": name, "name_key": athlete_key(name), "added_at": now, **(facts or {})}
    return insert_row(connection, ATHLETES, row)


def change_athlete(connection: Connection, athlete_id: int, facts: Mapping[str, Any]) -> None:
    """Change columns of an athlete's row.

    Raises
    ------
    LogError
        Another athlete has the new name.
    """
    if "name" in facts:
        facts = {**facts, "name_key": athlete_key(facts["name"])}
        other = _number_of(connection, facts["name"])
        if other not in (None, athlete_id):
            raise LogError.of("athlete_name_taken", name=facts["name"])
    if facts:
        connection.execute(update(ATHLETES).where(ATHLETES.c.id == athlete_id).values(**facts))


def note_stature(connection: Connection, athlete_id: int, stature_m: float, day: date) -> None:
    """Store a stature valid since a day, unless the same one was valid already."""
    athlete = athlete_of(connection, athlete_id)
    earlier_m = [stature for since, stature in athlete.statures if since <= day]
    if earlier_m and abs(earlier_m[-1] - stature_m) < SAME_STATURE_M:
        return
    where = (STATURES.c.athlete_id == athlete_id) & (STATURES.c.since == day)
    if connection.execute(update(STATURES).where(where).values(stature_m=stature_m)).rowcount == 0:
        row = {"athlete_id": athlete_id, "stature_m": stature_m, "since": day}
        insert_row(connection, STATURES, row)


def note_consent(connection: Connection, athlete_id: int, consent: Consent, now: datetime) -> None:
    """Store a consent to film an athlete; it replaces earlier consents."""
    row = {
        "athlete_id": athlete_id,
        "given_by": consent.given_by,
        "given_on": consent.given_on,
        "until": consent.until,
        "recorded_at": now,
    }
    insert_row(connection, CONSENTS, row)


def find_athlete(connection: Connection, name: str) -> Athlete:
    """Return an athlete by name, ignoring case and blanks.

    Raises
    ------
    LogError
        No athlete has that name.
    """
    number = _number_of(connection, name)
    if number is not None:
        return athlete_of(connection, number)
    names = connection.execute(select(ATHLETES.c.name).order_by(ATHLETES.c.name)).scalars().all()
    if not names:
        raise LogError.of("no_athlete_yet", name=name)
    raise LogError.of("no_such_athlete", name=name, nearest=nearest(name, names))


def known_athlete(connection: Connection, name: str) -> Athlete | None:
    """Return an athlete by name; None if the name is unknown."""
    number = _number_of(connection, name)
    return None if number is None else athlete_of(connection, number)


def athlete_of(connection: Connection, athlete_id: int) -> Athlete:
    """Return an athlete by number."""
    return _read(connection, ATHLETES.c.id == athlete_id)[0]


def all_athletes(connection: Connection) -> Sequence[Athlete]:
    """Return all athletes, sorted by name."""
    return _read(connection, None)


def refuse_without_consent(
    athlete: Athlete | None, name: str, day: date, age_years: float | None = None
) -> None:
    """Raise `ConsentError` if a minor has no consent, or any athlete's consent has expired.

    Parameters
    ----------
    athlete
        The athlete's entry; None = not in the log.
    name
        Name for the message.
    day
        Today.
    age_years
        Age given with the film; the log has precedence.
    """
    last = athlete.consents[-1] if athlete is not None and athlete.consents else None
    if last is not None and last.until is not None and last.until < day:
        day_of_end = last.until.isoformat()
        raise ConsentError.of("consent_ran_out", name=name, by=last.given_by, day=day_of_end)
    minor = None if athlete is None else athlete.is_minor(day)
    if minor is None and age_years is not None:
        minor = age_years < OF_AGE_YEARS
    if minor and last is None:
        verb = "set" if athlete is not None else "add"
        raise ConsentError.of("consent_not_noted", name=name, age=OF_AGE_YEARS, verb=verb)


def refuse_faces_of_a_minor(athlete: Athlete | None, name: str, day: date) -> None:
    """Raise `ConsentError` if the athlete is under age on a day by the log."""
    if athlete is not None and athlete.is_minor(day):
        raise ConsentError.of("faces_of_a_minor", name=name, age=OF_AGE_YEARS)


def _number_of(connection: Connection, name: str) -> int | None:
    query = select(ATHLETES.c.id).where(ATHLETES.c.name_key == athlete_key(name))
    return connection.execute(query).scalar()


def _read(connection: Connection, where: Any) -> list[Athlete]:  # noqa: ANN401 - a condition
    query = select(ATHLETES).order_by(ATHLETES.c.name_key)
    rows = connection.execute(query if where is None else query.where(where)).mappings().all()
    numbers = [row["id"] for row in rows]
    statures: dict[int, list[tuple[date, float]]] = {number: [] for number in numbers}
    query = select(STATURES).order_by(STATURES.c.since)
    for row in connection.execute(query.where(STATURES.c.athlete_id.in_(numbers))).mappings():
        statures[row["athlete_id"]].append((row["since"], row["stature_m"]))
    consents: dict[int, list[Consent]] = {number: [] for number in numbers}
    query = select(CONSENTS).order_by(CONSENTS.c.recorded_at, CONSENTS.c.id)
    for row in connection.execute(query.where(CONSENTS.c.athlete_id.in_(numbers))).mappings():
        consent = Consent(given_by=row["given_by"], given_on=row["given_on"], until=row["until"])
        consents[row["athlete_id"]].append(consent)
    own = ("id", "name", "birth_year", "stick_hand", "level", "minor")
    return [
        Athlete(
            **{name: row[name] for name in own},
            statures=tuple(statures[row["id"]]),
            consents=tuple(consents[row["id"]]),
        )
        for row in rows
    ]
