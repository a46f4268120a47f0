"""Work that was not filmed finds its session, and is never taken for film or for a count."""

from datetime import date, datetime, timezone

import pytest
from sqlalchemy import select

from pipeline.core.errors import LogError
from pipeline.core.files import VARIABLE
from pipeline.log.athletes import add_athlete
from pipeline.log.queries import list_sessions
from pipeline.log.record_analysis import log_analysis
from pipeline.log.schema import REPS, SESSIONS, WORK
from pipeline.log.sessions import Work, add_work, remove_session
from pipeline.log.store import opened_log
from tests.fixtures.logged import analysis_of, passes, settings_of

NOW = datetime(2026, 9, 2, 8, tzinfo=timezone.utc)
DAY = date(2026, 9, 1)


@pytest.fixture
def log(tmp_path, monkeypatch):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "kept"))
    with opened_log() as opened:
        yield opened


def add(log, throws=0, *, athlete=1, session_id=None, estimated=False, notes=None, **session):
    with log.writing() as connection:
        work = Work(
            day=DAY, counts={"throws": throws}, session=session, estimated=estimated, notes=notes
        )
        return add_work(connection, athlete, work, NOW, session_id=session_id)


@pytest.fixture
def athlete(log):
    with log.writing() as connection:
        return add_athlete(connection, "K. M.", NOW)


def listed(log):
    with log.reading() as connection:
        return list_sessions(connection)


def test_work_belongs_to_the_only_session_of_the_day(log, athlete, write_film):
    log_analysis(analysis_of(write_film(), passes(0.6, 0.7)), settings_of(), log, day=DAY)
    add(log, 50, minutes=40.0, exertion=6.0)
    (session,) = listed(log)
    assert session["filmed"]["throws"] == 2
    assert session["counted"]["throws"] == 50
    assert (session["minutes"], session["exertion"]) == (40, 6)


def test_film_belongs_to_the_session_of_which_only_the_day_was_told(log, athlete, write_film):
    add(log, 50)
    log_analysis(analysis_of(write_film(), passes(0.6)), settings_of(), log, day=DAY)
    assert len(listed(log)) == 1


def test_counted_and_estimated_stay_apart(log, athlete):
    add(log, 50)
    add(log, 100, estimated=True)
    (session,) = listed(log)
    assert session["counted"]["throws"] == 50
    assert session["estimated"]["throws"] == 100
    assert session["filmed"] == {}


def test_minutes_told_twice_are_two_sessions(log, athlete):
    assert add(log, 50, minutes=40.0) == add(log, 20)
    assert add(log, 50, minutes=40.0) == 2
    assert [session["minutes"] for session in listed(log)] == [40, 40]


def test_a_session_can_be_named(log, athlete):
    first = add(log, 50, minutes=40.0)
    add(log, 10, minutes=20.0)
    assert add(log, exertion=7.0, session_id=first) == first
    assert [session["exertion"] for session in listed(log)] == [None, 7]


def test_a_session_of_somebody_else_is_refused(log, athlete):
    with log.writing() as connection:
        other = add_athlete(connection, "B", NOW)
    number = add(log, 50)
    with pytest.raises(LogError, match="no session of that number"):
        add(log, 50, athlete=other, session_id=number)


def test_nothing_is_not_noted(log, athlete):
    with pytest.raises(LogError, match="nothing to note"):
        add(log)
    assert listed(log) == []


@pytest.mark.slow
def test_a_session_goes_with_everything_in_it(log, athlete, write_film):
    log_analysis(analysis_of(write_film(), passes(0.6)), settings_of(), log, day=DAY)
    number = add(log, 50)
    with log.writing() as connection:
        remove_session(connection, number)
        for table in (SESSIONS, REPS, WORK):
            assert connection.execute(select(table)).all() == []
        with pytest.raises(LogError, match="no session of that number"):
            remove_session(connection, number)
