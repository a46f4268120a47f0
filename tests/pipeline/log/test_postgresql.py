"""The same log on a PostgreSQL server, which the test starts itself."""

from datetime import date, datetime, timezone

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import insert, select

from pipeline.core.errors import LogBusy, NewerLog, OutputError
from pipeline.core.files import VARIABLE
from pipeline.feedback.words import load_words
from pipeline.log.athlete_overview import overview_of
from pipeline.log.athletes import find_athlete
from pipeline.log.location import log_url
from pipeline.log.migrate import copy_database, migrate
from pipeline.log.personal_data import erase_athlete
from pipeline.log.queries import list_sessions
from pipeline.log.record_analysis import log_analysis
from pipeline.log.schema import ATHLETES, HEAD, MEASURES, METADATA, REPS
from pipeline.log.sessions import Work, add_work
from pipeline.log.store import engine_for, opened_log
from pipeline.log.wording import overview_document
from tests.fixtures.logged import analysis_of, passes, settings_of

NOW = datetime(2026, 9, 2, 8, tzinfo=timezone.utc)
DAY = date(2026, 9, 1)


@pytest.fixture
def address(postgresql, tmp_path, monkeypatch):
    """An empty database."""
    monkeypatch.setenv(VARIABLE, str(tmp_path / "kept"))
    engine = engine_for(log_url(postgresql))
    with engine.begin() as connection:
        connection.exec_driver_sql("DROP SCHEMA public CASCADE")
        connection.exec_driver_sql("CREATE SCHEMA public")
    engine.dispose()
    return postgresql


def fill(log, film):
    log_analysis(analysis_of(film, passes(0.6, 0.7, 0.8)), settings_of(), log, day=DAY)
    log_analysis(analysis_of(film, passes(0.6, None)), settings_of(), log)
    with log.writing() as connection:
        athlete = find_athlete(connection, "k. m.")
        work = Work(day=DAY, counts={"throws": 50}, hand="left", session={"minutes": 40.0})
        add_work(connection, athlete.id, work, NOW)


@pytest.mark.slow
def test_tables_are_those_that_the_program_means(address):
    with opened_log(address) as log, log.reading() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, METADATA) == []
        assert context.get_current_revision() == HEAD


@pytest.mark.slow
def test_it_holds_the_same_as_a_file_would(address, write_film):
    film = write_film()
    found = []
    for place in (address, None):
        with opened_log(place) as log:
            fill(log, film)
            with log.reading() as connection:
                sessions = list_sessions(connection)
                values = connection.execute(
                    select(REPS.c.number, REPS.c.hand, REPS.c.day, MEASURES.c.value)
                    .join(MEASURES)
                    .order_by(REPS.c.number)
                ).all()
        found.append((sessions, [tuple(row) for row in values]))
    assert found[0] == found[1]
    assert [value for *_, value in found[0][1]] == [0.6, None]
    assert found[0][0][0]["counted"]["throws"] == 50


@pytest.mark.slow
def test_a_backup_of_a_server_is_a_file_that_can_be_used(address, write_film, tmp_path):
    with opened_log(address) as log:
        fill(log, write_film())
        rows = copy_database(log.engine, log.url, tmp_path / "copy.sqlite3")
        with log.reading() as connection:
            sessions = list_sessions(connection)
    assert rows["reps"] == 2
    with opened_log(f"sqlite:///{tmp_path}/copy.sqlite3") as log:
        with log.reading() as connection:
            assert list_sessions(connection) == sessions
        with log.writing() as connection:
            add_work(connection, 1, Work(day=DAY, counts={"throws": 5}), NOW)


def test_an_older_log_is_brought_up_after_a_backup(address, tmp_path):
    engine = engine_for(log_url(address))
    with engine.begin() as connection:
        migrate(connection, "0001")
    engine.dispose()
    with opened_log(address) as log, log.reading() as connection:
        assert MigrationContext.configure(connection).get_current_revision() == HEAD
    (backup,) = (tmp_path / "kept").glob("*.backup.sqlite3")
    assert "form0001" in backup.name


def test_a_newer_log_is_refused(address):
    with opened_log(address) as log, log.writing() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '9001'")
    with pytest.raises(NewerLog), opened_log(address):
        pass


@pytest.mark.slow
def test_a_file_in_the_way_of_a_backup_is_not_written_over(address, tmp_path):
    (tmp_path / "there").write_text("mine")
    with opened_log(address) as log, pytest.raises(OutputError, match="not written over"):
        copy_database(log.engine, log.url, tmp_path / "there")
    assert (tmp_path / "there").read_text() == "mine"


def test_an_athlete_can_be_forgotten(address, write_film):
    with opened_log(address) as log:
        fill(log, write_film())
        erased = erase_athlete(log, "K. M.")
        assert (erased.plan.rows["reps"], erased.left) == (2, [])
        with log.reading() as connection:
            assert list_sessions(connection) == []
            assert connection.execute(select(MEASURES.c.key)).all() == []


@pytest.mark.slow
def test_figures_are_those_of_a_file(address, write_film):
    film, found = write_film(), []
    for place in (address, None):
        with opened_log(place) as log:
            fill(log, film)
            with log.reading() as connection:
                athlete = find_athlete(connection, "K. M.")
                board = overview_of(connection, athlete, DAY, 2)
        found.append(overview_document(load_words(), board))
    assert found[0] == found[1]
    assert found[0]["weeks"][-1]["by_hand"]["left"]["throws"] == 50


def write_name(log):
    with log.writing() as connection:
        row = {"name": "K. M.", "name_key": "k. m.", "added_at": NOW}
        connection.execute(insert(ATHLETES), row)


def test_two_who_write_the_same_at_once_are_told(address):
    with opened_log(address) as log:
        write_name(log)
        with pytest.raises(LogBusy, match="wrote the same"):
            write_name(log)
