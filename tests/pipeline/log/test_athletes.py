"""Who is in the log, how tall, and who may be filmed."""

from datetime import date, datetime, timezone

import pytest

from pipeline.core.errors import ConsentError, LogError
from pipeline.core.files import VARIABLE
from pipeline.log.athletes import (
    Athlete,
    Consent,
    add_athlete,
    all_athletes,
    change_athlete,
    find_athlete,
    known_athlete,
    note_stature,
    refuse_faces_of_a_minor,
    refuse_without_consent,
)
from pipeline.log.store import opened_log

NOW = datetime(2026, 9, 2, 8, tzinfo=timezone.utc)
DAY = date(2026, 9, 2)


@pytest.fixture
def connection(tmp_path, monkeypatch):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "kept"))
    with opened_log() as log, log.writing() as opened:
        yield opened


def test_names_are_one_whatever_their_case_and_blanks(connection):
    add_athlete(connection, "K. M.", NOW)
    assert find_athlete(connection, " k.   m. ").name == "K. M."
    with pytest.raises(LogError, match="there is an athlete of that name"):
        add_athlete(connection, "k. m.", NOW)
    with pytest.raises(LogError, match=r"Did you mean K\. M\.\?"):
        find_athlete(connection, "K. N.")
    assert known_athlete(connection, "Zed") is None


def test_a_name_can_be_changed_but_not_to_one_that_is_taken(connection):
    first = add_athlete(connection, "A", NOW)
    add_athlete(connection, "B", NOW)
    with pytest.raises(LogError, match="another athlete"):
        change_athlete(connection, first, {"name": "b"})
    change_athlete(connection, first, {"name": "Anna"})
    assert [athlete.name for athlete in all_athletes(connection)] == ["Anna", "B"]


def test_statures_are_kept_with_their_days(connection):
    number = add_athlete(connection, "A", NOW)
    for day, stature_m in ((1, 1.50), (5, 1.502), (9, 1.54), (9, 1.55)):
        note_stature(connection, number, stature_m, date(2026, 9, day))
    athlete = find_athlete(connection, "A")
    assert athlete.statures == ((date(2026, 9, 1), 1.50), (date(2026, 9, 9), 1.55))
    assert athlete.stature_m(date(2026, 9, 8)) == 1.50
    assert athlete.stature_m(date(2026, 8, 1)) == 1.50
    assert Athlete(id=1, name="A").stature_m(DAY) is None


@pytest.mark.parametrize(
    ("facts", "expected"),
    [
        ({}, None),
        ({"birth_year": 2008}, True),  # 17 until the birthday, which is not known
        ({"birth_year": 2007}, False),
        ({"birth_year": 2013, "minor": False}, False),
        ({"birth_year": 1990, "minor": True}, True),
    ],
)
def test_who_may_still_be_17_is_a_minor(facts, expected):
    assert Athlete(id=1, name="A", **facts).is_minor(DAY) is expected


def consented(until, **facts):
    consent = Consent(given_by="a parent", given_on=date(2026, 1, 1), until=until)
    return Athlete(id=1, name="A", consents=(consent,), **facts)


def test_consent_holds_on_its_last_day_and_not_after():
    refuse_without_consent(consented(DAY, minor=True), "A", DAY)
    refuse_without_consent(consented(None, minor=True), "A", DAY)
    with pytest.raises(ConsentError, match="ran out"):
        refuse_without_consent(consented(date(2026, 9, 1), minor=True), "A", DAY)


def test_a_consent_that_ran_out_counts_for_adults_too():
    with pytest.raises(ConsentError, match="ran out"):
        refuse_without_consent(consented(date(2026, 9, 1), minor=False), "A", DAY)
    refuse_without_consent(Athlete(id=1, name="A", minor=False), "A", DAY)


def test_the_log_knows_better_than_the_age_that_was_typed():
    refuse_without_consent(Athlete(id=1, name="A", minor=False), "A", DAY, age_years=12)
    with pytest.raises(ConsentError, match="under 18"):
        refuse_without_consent(Athlete(id=1, name="A", minor=True), "A", DAY, age_years=30)


def test_faces_of_whom_the_log_calls_a_minor_stay_hidden():
    with pytest.raises(ConsentError, match="faces of minors stay hidden"):
        refuse_faces_of_a_minor(Athlete(id=1, name="A", minor=True), "A", DAY)
    with pytest.raises(ConsentError, match="--show-faces"):
        refuse_faces_of_a_minor(Athlete(id=1, name="A", birth_year=2012), "A", DAY)
    refuse_faces_of_a_minor(Athlete(id=1, name="A", minor=False), "A", DAY)
    refuse_faces_of_a_minor(None, "A", DAY)
