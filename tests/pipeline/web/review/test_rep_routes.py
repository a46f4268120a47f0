"""The page on a rep: film by pieces, numbers, changes that are kept, and nothing else given out."""

import json
import shutil
import time
from dataclasses import replace

import numpy as np
import pytest
from sqlalchemy import func, select
from starlette.applications import Starlette
from starlette.testclient import TestClient

from pipeline.core.catalogue import shipped_texts
from pipeline.core.files import VARIABLE
from pipeline.log.athletes import find_athlete
from pipeline.log.log_request import LogRequest
from pipeline.log.personal_data import erase_athlete
from pipeline.log.queries import everything_of
from pipeline.log.record_analysis import log_analysis
from pipeline.log.rep_edits import REP_CHANGES, changes_of
from pipeline.log.schema import CLIPS, MEASURES, REPS
from pipeline.log.store import opened_log
from pipeline.web.review.analyse_film import record_film
from pipeline.web.review.context import HERE
from pipeline.web.review.rep_routes import STATIC, rep_routes
from tests.fixtures.rep_films import FIRST_STAMP, SETTINGS, TICKS, rep_context, shot_film, stamps_of

REP = "/clip/1/rep/1"


@pytest.fixture(scope="module")
def film(tmp_path_factory):
    return shot_film(tmp_path_factory.mktemp("film"))


@pytest.fixture
def log(tmp_path, film):
    with opened_log(f"sqlite:///{tmp_path / 'log.sqlite3'}") as store:
        film.logged(store)
        yield store


@pytest.fixture
def open_page(log, tmp_path):
    def open_it(language="en"):
        app = Starlette(routes=rep_routes(rep_context(log, tmp_path, language)))
        return TestClient(app, base_url="http://127.0.0.1")

    return open_it


@pytest.fixture
def page(open_page):
    return open_page()


def logged(log, *columns):
    with log.reading() as connection:
        rows = connection.execute(select(MEASURES.c.key, *columns).order_by(MEASURES.c.key))
        return [tuple(row) for row in rows]


def release_of(answer):
    return next(event for event in answer["events"] if event["name"] == "release")


def move_release(page, by):
    frame = release_of(page.get(f"{REP}/motion").json())["frame"] + by
    body = {"kind": "event", "name": "release", "frame": frame}
    return page.post(f"{REP}/change", json=body)


@pytest.mark.slow
def test_the_page_shows_the_numbers_of_the_log(page, film):
    html = page.get(REP).text
    assert "Rep 1: high-to-low shot" in html
    assert "K. M." in html
    for key in film.analysis.reps[0].measurements:
        assert f'data-key="{key}"' in html
    assert 'style="' not in html
    assert "onclick=" not in html
    assert html.count("<script") == 2


@pytest.mark.slow
def test_the_film_is_given_in_pieces(page, film):
    whole = film.path.read_bytes()
    answer = page.get("/clip/1/film")
    assert answer.content == whole
    assert answer.headers["content-type"] == "video/mp4"
    part = page.get("/clip/1/film", headers={"range": "bytes=100-299"})
    assert part.status_code == 206
    assert part.content == whole[100:300]
    assert part.headers["content-range"] == f"bytes 100-299/{len(whole)}"
    last = page.get("/clip/1/film", headers={"range": "bytes=-50"})
    assert (last.status_code, last.content) == (206, whole[-50:])
    beyond = page.get("/clip/1/film", headers={"range": f"bytes={len(whole)}-"})
    assert beyond.status_code == 416


@pytest.mark.slow
@pytest.mark.parametrize(
    "path",
    ["/clip/2/film", "/clip/2/copy", "/clip/1/copy", "/clip/2/copy/state", "/clip/2/rep/1",
     "/clip/1/rep/2", "/clip/1/rep/2/motion", "/clip/-1/rep/1", "/clip/x/film", "/clip/1/film/x",
     "/clip/1%2f..%2f..%2fetc/film", "/static/../rep_routes.py", "/static/rep.html"],
)  # fmt: skip
def test_what_is_not_there_is_not_found(page, path):
    assert page.get(path).status_code == 404


@pytest.mark.slow
def test_a_film_that_was_taken_away_is_not_found_and_the_page_says_so(page, log, tmp_path):
    with log.writing() as connection:
        connection.execute(CLIPS.update().values(film_path=str(tmp_path / "gone.mp4")))
    assert page.get("/clip/1/film").status_code == 404
    assert "cannot be shown" in page.get(REP).text
    answer = page.get(f"{REP}/motion").json()
    assert answer["film_s"] is None
    assert answer["people"]


@pytest.mark.slow
def test_what_is_drawn_has_the_times_of_the_film(page, film):
    answer = page.get(f"{REP}/motion").json()
    stamps, first = stamps_of(180), answer["first"]
    n = len(answer["film_s"])
    assert answer["film_s"] == pytest.approx([s / TICKS for s in stamps[first : first + n]])
    assert answer["film_s"][0] >= FIRST_STAMP / TICKS
    assert len(answer["people"][0]) == len(answer["time_s"]) == n
    frame = film.analysis.reps[0].rep.events["release"].frame
    there = film.analysis.tracks.image_px[0, frame]
    shown = answer["people"][0][frame - first]
    assert np.asarray(shown) == pytest.approx(there, abs=0.06)
    assert "hand_height_before_release_m" in answer["lines"]


@pytest.mark.slow
def test_moving_the_release_by_a_frame_changes_the_number_and_is_kept(page, log):
    before = dict(logged(log, MEASURES.c.value))
    one, two = move_release(page, -2).json(), None
    first = dict(logged(log, MEASURES.c.value))["fake_to_release_s"]
    two = move_release(page, 1).json()
    second = dict(logged(log, MEASURES.c.value))["fake_to_release_s"]
    a, b = (release_of(answer)["frame"] for answer in (one, two))
    stamps = stamps_of(180)
    assert b == a + 1
    assert second - first == pytest.approx((stamps[b] - stamps[a]) / TICKS, abs=1e-9)
    assert release_of(two)["by_coach"]
    assert "marked by coach" in two["rows"]
    assert "Coach B." in two["changes"]
    sources = dict(logged(log, MEASURES.c.source))
    assert sources["fake_to_release_s"] == "coach"
    assert sources["head_pitch_at_fake_deg"] is None
    assert (
        before["head_pitch_at_fake_deg"]
        == dict(logged(log, MEASURES.c.value))["head_pitch_at_fake_deg"]
    )
    assert "marked by coach" in page.get(REP).text
    with log.reading() as connection:
        kept = changes_of(connection, 1)
    assert [json.loads(one.before)["frame"] for one in kept][1] == a
    assert all(one.by == "Coach B." for one in kept)


@pytest.mark.slow
def test_undone_the_numbers_are_exactly_the_old_ones_and_nothing_is_lost(page, log):
    columns = (MEASURES.c.value, MEASURES.c.u, MEASURES.c.verdict, MEASURES.c.source)
    before, drawn = logged(log, *columns), page.get(f"{REP}/motion").json()
    move_release(page, -3)
    assert logged(log, *columns) != before
    with log.reading() as connection:
        (change,) = changes_of(connection, 1)
    answer = page.post(f"{REP}/undo", json={"id": change.id}).json()
    assert logged(log, *columns) == before
    assert answer["events"] == drawn["events"]
    assert answer["people"] == drawn["people"]
    with log.reading() as connection:
        assert connection.execute(select(func.count()).select_from(REP_CHANGES)).scalar() == 2
    assert page.post(f"{REP}/undo", json={"id": change.id}).status_code == 409


@pytest.mark.slow
def test_a_change_survives_a_new_analysis_of_the_film(page, log, film, tmp_path):
    moved = release_of(move_release(page, -2).json())
    other = replace(film.analysis.reps[0].rep, index=1)
    again = replace(film.analysis, reps=(replace(film.analysis.reps[0], rep=other),))
    log_analysis(again, SETTINGS, log, cache_path=film.cache)
    assert dict(logged(log, MEASURES.c.source))["fake_to_release_s"] is None
    asked = LogRequest(database=f"sqlite:///{tmp_path / 'log.sqlite3'}")
    record_film(again, SETTINGS, asked, results=tmp_path, cache=film.cache)
    assert dict(logged(log, MEASURES.c.source))["fake_to_release_s"] == "coach"
    answer = page.get(f"{REP}/motion").json()
    assert release_of(answer)["frame"] == moved["frame"]
    assert dict(logged(log, MEASURES.c.source))["fake_to_release_s"] == "coach"


@pytest.mark.slow
def test_a_joint_and_a_foot_are_put_right(page, log):
    drawn = page.get(f"{REP}/motion").json()
    frame = release_of(drawn)["frame"]
    joint = drawn["joints"].index("right_hand")
    x, y = drawn["people"][0][frame - drawn["first"]][joint]
    body = {"kind": "joint", "name": "right_hand", "frame": frame, "at_px": [x, y - 15.0]}
    answer = page.post(f"{REP}/change", json=body).json()
    assert answer["people"][0][frame - drawn["first"]][joint] == pytest.approx(
        [x, y - 15.0], abs=0.1
    )
    assert dict(logged(log, MEASURES.c.source))["release_height_m"] == "coach"
    body = {"kind": "lifts", "name": "left", "frame": frame}
    answer = page.post(f"{REP}/change", json=body).json()
    assert answer["contacts"]["left"][-1][1] == frame - 1
    assert "Left foot lifts" in answer["changes"]


@pytest.mark.slow
@pytest.mark.parametrize(
    "body",
    [b"", b"[]", b"{", b"\xff", b"[" * 5000, b'{"kind": "event", "name": "roll_end", "frame": 3}',
     b'{"kind": "event", "name": "release", "frame": 0}',
     b'{"kind": "joint", "name": "nose", "frame": 999999, "at_px": [1, 2]}'],
)  # fmt: skip
def test_what_cannot_be_meant_is_refused_in_words_and_nothing_is_kept(page, log, body):
    answer = page.post(f"{REP}/change", content=body)
    assert answer.status_code == 409
    assert answer.json()["words"].endswith((".", "!"))
    with log.reading() as connection:
        assert changes_of(connection, 1) == []


def test_without_what_was_kept_the_page_says_to_analyse_again(page, log, tmp_path):
    with log.writing() as connection:
        connection.execute(CLIPS.update().values(cache_path=str(tmp_path / "none")))
    answer = page.get(f"{REP}/motion")
    assert answer.status_code == 409
    assert "Analyse the film again" in answer.json()["words"]


@pytest.mark.slow
def test_a_row_of_an_older_log_is_measured_by_what_it_knows(page, log):
    with log.writing() as connection:
        connection.execute(CLIPS.update().values(settings=None))
    # Which move was asked for is not known then: the program finds out.
    assert page.get(f"{REP}/motion").status_code in (200, 409)


@pytest.mark.slow
def test_a_person_s_changes_are_taken_along_and_forgotten(page, log):
    move_release(page, -2)
    with log.reading() as connection:
        everything = everything_of(connection, find_athlete(connection, "K. M."))
    assert len(everything["rep_changes"]) == 1
    with log.writing() as connection:  # the landmarks are those of other tests too
        connection.execute(CLIPS.update().values(cache_path=None, results_path=None))
    erase_athlete(log, "K. M.")
    with log.reading() as connection:
        assert connection.execute(select(func.count()).select_from(REP_CHANGES)).scalar() == 0
        assert connection.execute(select(func.count()).select_from(REPS)).scalar() == 0


@pytest.mark.slow
def test_a_copy_is_made_asked_for_and_forgotten_with_the_athlete(page, log, film, tmp_path):
    shutil.copytree(film.cache, tmp_path / "cache")
    with log.writing() as connection:
        connection.execute(CLIPS.update().values(cache_path=str(tmp_path / "cache")))
    assert page.get("/clip/1/copy/state").json() == {"state": "none"}
    assert page.get("/clip/1/copy").status_code == 404
    assert page.post("/clip/1/copy/make").json() == {"state": "making"}
    for _ in range(600):
        if page.get("/clip/1/copy/state").json()["state"] != "making":
            break
        time.sleep(0.05)
    assert page.get("/clip/1/copy/state").json() == {"state": "ready"}
    part = page.get("/clip/1/copy", headers={"range": "bytes=0-99"})
    assert (part.status_code, len(part.content)) == (206, 100)
    answer = page.get(f"{REP}/motion").json()
    assert answer["copy_s"] == answer["film_s"]
    erase_athlete(log, "K. M.")
    assert list((tmp_path / "cache").iterdir()) == []
    assert page.get("/clip/1/copy").status_code == 404


@pytest.mark.slow
def test_new_targets_hold_at_once(page, tmp_path, monkeypatch):
    monkeypatch.setenv(VARIABLE, str(tmp_path))
    place = "high_to_low_shot.any.hand_height_before_release_m"
    page.get(f"{REP}/motion")
    for low in ("1.00", "1.25"):
        (tmp_path / "targets.toml").write_text(
            f'set_by = "a coach"\nwhy = "practice"\n[{place}]\nlow_m = {low}\nhigh_m = 3.0\n'
        )
        assert f"{low} to 3.00 m" in page.get(f"{REP}/motion").json()["rows"]


@pytest.mark.slow
def test_the_page_speaks_spanish(open_page):
    page = open_page("es")
    html = page.get(REP).text
    assert "Repetición 1" in html
    assert "Números" in html
    assert "Rep 1" not in html
    assert "marcado por el entrenador" in move_release(page, -2).json()["rows"]


def test_both_languages_have_the_same_texts():
    english, spanish = (shipped_texts(language)["rep_view"] for language in ("en", "es"))
    assert set(english) == set(spanish)


def test_the_files_of_the_page_ask_nobody_else():
    for name in STATIC:
        text = (HERE / "static" / name).read_text(encoding="utf-8")
        assert "https://" not in text
        assert "http://" not in text.replace("http://www.w3.org/2000/svg", "")
