"""An analysis is in the log once and whole, whatever its file is called."""

from dataclasses import replace
from datetime import date, datetime, timezone

import numpy as np
import pytest
from sqlalchemy import func, insert, select

from pipeline.core.errors import ConsentError, LogError
from pipeline.core.files import VARIABLE
from pipeline.core.messages import message
from pipeline.log import record_analysis, rep_rows
from pipeline.log.athletes import Consent, add_athlete, find_athlete, note_consent
from pipeline.log.film_date import FilmDate
from pipeline.log.queries import list_sessions
from pipeline.log.record_analysis import allow_analysis, log_analysis
from pipeline.log.rep_rows import put_measures
from pipeline.log.schema import (
    CLIPS,
    FLAGS,
    MEASURES,
    REPS,
    REVIEW_MARKS,
    SESSIONS,
    TARGET_VERSIONS,
)
from pipeline.log.store import opened_log
from tests.fixtures.logged import analysis_of, passes, rep_of, settings_of
from tests.fixtures.reviewed import judged

DAY = date(2026, 9, 1)
NOW = datetime(2026, 9, 2, 8, tzinfo=timezone.utc)


@pytest.fixture
def log(tmp_path, monkeypatch):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "kept"))
    with opened_log() as opened:
        yield opened


def rows(log, table):
    with log.reading() as connection:
        return connection.execute(select(table)).mappings().all()


def test_reps_measures_and_verdicts_are_kept(log, write_film):
    reps = [
        rep_of(1, "throwback_pass", "right", step_back_m=0.61, steps_back=None),
        rep_of(2, "split_dodge", "left", "natural", cut_angle_deg=64.0),
    ]
    done = log_analysis(analysis_of(write_film(), reps, contact=[2]), settings_of(), log, day=DAY)
    assert (done.n_reps, done.day, done.dated_by, done.again) == (2, DAY, "told", False)
    first, second = rows(log, REPS)
    counts = ("throws", "shots", "dodges", "cuts", "contacts")
    assert [first[name] for name in counts] == [1, 0, 0, 0, 0]
    assert [second[name] for name in counts] == [0, 0, 1, 1, 1]
    assert (first["hand"], first["side"], second["side"]) == ("right", None, "natural")
    assert (first["day"], first["move_by"], first["move_probability"]) == (DAY, "found", 0.9)
    measures = {row["key"]: row for row in rows(log, MEASURES)}
    step = measures["step_back_m"]
    assert (step["value"], step["u"], step["unit"]) == (0.61, 0.02, "m")
    assert (step["verdict"], step["probability_inside"]) == ("in range", 0.97)
    assert step["target_range"] == {"low": {"value": 0.5, "unit": "m"}, "high": None}
    assert measures["steps_back"]["value"] is None
    assert measures["steps_back"]["reason"] == {"text": "feet out of view"}
    (clip,) = rows(log, CLIPS)
    assert (clip["targets"], clip["grade"]) == ("0123456789ab", "B")
    assert [row["source"] for row in rows(log, TARGET_VERSIONS)] == ["coach"]


def test_an_athlete_who_is_new_is_added_with_what_was_told(log, write_film):
    settings = settings_of(stick_hand="left", level="youth", stature_m=1.5)
    log_analysis(analysis_of(write_film(), passes(0.6)), settings, log, day=DAY)
    with log.reading() as connection:
        athlete = find_athlete(connection, "k.  M.")
    assert (athlete.stick_hand, athlete.level) == ("left", "youth")
    assert athlete.statures == ((DAY, 1.5),)
    grown = settings_of(stature_m=1.55)
    log_analysis(analysis_of(write_film(), passes(0.6)), grown, log, day=date(2026, 10, 1))
    with log.reading() as connection:
        athlete = find_athlete(connection, "K. M.")
    assert athlete.statures == ((DAY, 1.5), (date(2026, 10, 1), 1.55))
    assert athlete.stature_m(date(2026, 9, 30)) == 1.5
    assert athlete.level == "youth"


@pytest.mark.slow
@pytest.mark.parametrize("how", ["again", "renamed", "another container"])
def test_the_same_film_is_counted_once(log, write_film, tmp_path, how):
    film = write_film()
    log_analysis(analysis_of(film, passes(0.6, 0.7, 0.8)), settings_of(), log, day=DAY)
    second = film
    if how == "renamed":
        second = film.rename(tmp_path / "IMG_0007.mp4")
    if how == "another container":
        from tests.pipeline.log.test_film_date import remuxed

        second = remuxed(film, tmp_path / "copy.mkv", "matroska")
    done = log_analysis(analysis_of(second, passes(0.6, 0.9)), settings_of(), log)
    assert done.again
    assert [row["number"] for row in rows(log, REPS)] == [1, 2]
    assert [row["value"] for row in rows(log, MEASURES)] == [0.6, 0.9]
    assert len(rows(log, CLIPS)) == len(rows(log, SESSIONS)) == 1


@pytest.mark.slow
def test_a_film_of_two_players_counts_for_each_and_says_so(log, write_film):
    analysis = analysis_of(write_film(), passes(0.6))
    assert log_analysis(analysis, settings_of("A"), log, day=DAY).also_of == ()
    assert log_analysis(analysis, settings_of("B"), log, day=DAY).also_of == ("A",)
    assert len(rows(log, REPS)) == 2


def test_a_date_that_was_told_stays_until_another_is_told(log, write_film):
    film = analysis_of(write_film(), passes(0.6))
    log_analysis(film, settings_of(), log, day=DAY)
    again = log_analysis(film, settings_of(), log)
    assert (again.day, again.dated_by) == (DAY, "told")
    other = log_analysis(film, settings_of(), log, day=date(2026, 8, 1))
    assert other.day == date(2026, 8, 1)
    assert [row["day"] for row in rows(log, REPS)] == [date(2026, 8, 1)]
    assert [row["day"] for row in rows(log, SESSIONS)] == [date(2026, 8, 1)]


def at(hour, minute=0, day=1):
    return datetime(2026, 9, day, hour, minute, tzinfo=timezone.utc)


def logged_at(log, monkeypatch, analysis, instant, day=DAY):
    monkeypatch.setattr(record_analysis, "film_date", lambda *_: FilmDate(day, instant, "film"))
    return log_analysis(analysis, settings_of(), log)


def test_film_of_one_evening_is_one_session_also_past_midnight(log, write_film, monkeypatch):
    films = [write_film(f"{n}.mp4", n_frames=10 + n) for n in range(4)]
    first, second, third, morning = (analysis_of(film, passes(0.6)) for film in films)
    logged_at(log, monkeypatch, second, at(23, 20))
    logged_at(log, monkeypatch, first, at(22))
    after = logged_at(log, monkeypatch, third, at(0, 30, day=2), date(2026, 9, 2))
    assert after.day == DAY
    assert len(rows(log, SESSIONS)) == 1
    logged_at(log, monkeypatch, morning, at(9, day=2), date(2026, 9, 2))
    assert [row["day"] for row in rows(log, SESSIONS)] == [DAY, date(2026, 9, 2)]
    session = rows(log, SESSIONS)[0]
    assert session["started_at"] == at(22)
    assert at(0, 30, day=2) < session["ended_at"] < at(0, 31, day=2)


def test_morning_and_evening_are_two_sessions(log, write_film, monkeypatch):
    films = [write_film(f"{n}.mp4", n_frames=10 + n) for n in range(2)]
    for film, hour in zip(films, (8, 18), strict=True):
        logged_at(log, monkeypatch, analysis_of(film, passes(0.6)), at(hour))
    assert len(rows(log, SESSIONS)) == 2


def test_marks_from_a_review_outlive_another_analysis(log, write_film):
    film = analysis_of(write_film(), passes(0.6))
    log_analysis(film, settings_of(), log, day=DAY)
    with log.writing() as connection:
        clip_id = connection.execute(select(CLIPS.c.id)).scalar()
        mark = {"clip_id": clip_id, "rep_number": 1, "kind": "note", "text": "good", "at": NOW}
        connection.execute(insert(REVIEW_MARKS), mark)
    log_analysis(film, settings_of(), log)
    assert [row["text"] for row in rows(log, REVIEW_MARKS)] == ["good"]


def test_what_breaks_off_changes_nothing(log, write_film, monkeypatch):
    film = analysis_of(write_film(), passes(0.6, 0.7))
    log_analysis(film, settings_of(), log, day=DAY)
    monkeypatch.setattr(rep_rows, "put_flags", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        log_analysis(replace(film, reps=tuple(passes(0.9))), settings_of(), log)
    assert [row["value"] for row in rows(log, MEASURES)] == [0.6, 0.7]


def test_a_film_without_reps_is_in_the_log(log, write_film):
    log_analysis(analysis_of(write_film(), []), settings_of(), log, day=DAY)
    assert len(rows(log, CLIPS)) == 1
    with log.reading() as connection:
        (session,) = list_sessions(connection)
    assert (session["clips"], session["filmed"]) == (["film.mp4"], {})


def test_nobody_is_logged_without_a_name(log, write_film):
    with pytest.raises(LogError, match="--athlete"):
        log_analysis(analysis_of(write_film(), passes(0.6)), settings_of(None), log)


def test_numbers_of_the_library_kind_are_kept_as_numbers(log, write_film):
    import numpy as np

    film = analysis_of(write_film(), [rep_of(1, step_back_m=np.float32(0.5))])
    log_analysis(film, settings_of(), log, day=DAY)
    with log.reading() as connection:
        query = select(func.typeof(MEASURES.c.value))
        assert connection.execute(query).scalars().all() == ["real"]


@pytest.mark.slow
def test_a_minor_without_consent_is_refused_before_the_work(log):
    with log.writing() as connection:
        number = add_athlete(connection, "K. M.", NOW, {"birth_year": 2013})
    with pytest.raises(ConsentError, match="athlete set"):
        allow_analysis(log, "k. m.", DAY)
    with log.writing() as connection:
        consent = Consent(given_by="a parent", given_on=DAY, until=date(2026, 12, 31))
        note_consent(connection, number, consent, NOW)
    allow_analysis(log, "K. M.", date(2026, 12, 31))
    with pytest.raises(ConsentError, match="ran out on 2026-12-31"):
        allow_analysis(log, "K. M.", date(2027, 1, 1))


def test_a_stranger_is_a_minor_if_the_age_says_so(log):
    allow_analysis(log, "Zed", DAY)
    allow_analysis(log, "Zed", DAY, age_years=18)
    with pytest.raises(ConsentError, match="athlete add"):
        allow_analysis(log, "Zed", DAY, age_years=17.9)


def test_a_reason_of_the_program_is_kept_by_its_key(log, write_film):
    why = message("reasons.without_ground", why=message("camera.far", moved=np.float32(30.5)))
    rep = rep_of(1, step_back_m=None)
    missing = replace(rep.measurements["step_back_m"], reason=why)
    log_analysis(analysis_of(write_film(), [replace(rep, measurements={"step_back_m": missing})]),
                 settings_of(), log, day=DAY)  # fmt: skip
    (row,) = rows(log, MEASURES)
    assert row["reason"] == {
        "key": "reasons.without_ground",
        "values": {"why": {"key": "camera.far", "values": {"moved": 30.5}}},
    }


@pytest.mark.slow
def test_a_flag_follows_the_numbers_that_are_written_anew(log, write_film):
    log_analysis(analysis_of(write_film(), passes(0.6)), settings_of(), log, day=DAY)
    assert [row["kind"] for row in rows(log, FLAGS)] == ["none"]
    with log.writing() as connection:
        put_measures(connection, 1, judged(passes(0.1)[0]), ["step_back_m"], lambda move, key: 1.0)
    (flag,) = rows(log, FLAGS)
    assert (flag["kind"], flag["measure"]) == ("fault", "step_back_m")
    # Sure by 0.99 and by 0.5 / (0.5 + U); missed by 0.4 m in units of the bound, 0.5 m.
    assert flag["score"] == pytest.approx(0.99 * 0.5 / (0.5 + 1.96 * 0.02) * 0.4 / 0.9)
    assert [row["source"] for row in rows(log, MEASURES)] == ["coach"]
