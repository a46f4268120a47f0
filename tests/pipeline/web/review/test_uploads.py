"""Film that is sent: kept under a name of ours, and nothing left of what is none or too much."""

import pytest
from sqlalchemy import func, select

from pipeline.log.athletes import add_athlete, change_athlete, find_athlete, note_stature
from pipeline.log.personal_data import erase_athlete
from pipeline.log.schema import JOBS
from pipeline.web.review import film_routes, uploads
from pipeline.web.review.jobs import (
    add_job,
    cancel_job,
    claim_job,
    end_job,
    job_of,
    last_jobs,
    note_progress,
    queue_again,
)
from tests.fixtures.reviewed import OWN


@pytest.fixture
def who(log, clip):
    with log.reading() as connection:
        return find_athlete(connection, "K. M.").id


def kept(data):
    return sorted(path.name for path in (data / "review" / "film").iterdir())


def jobs(log):
    with log.reading() as connection:
        return last_jobs(connection)


def send(page, who, content, name="my film.mov", **fields):
    form = {"who": who, **fields}
    return page.post(
        "/film/upload", data=form, files={"film": (name, content, "video/mp4")}, headers=OWN
    )


def test_a_film_is_kept_under_a_name_of_ours_and_waits_for_its_analysis(
    page, log, data, who, write_film
):
    film = write_film("other.mp4", n_frames=15).read_bytes()
    answer = send(page, who, film, name="../../../<b>x.mov", move="throwback_pass")
    assert answer.status_code == 303
    (name,) = kept(data)
    assert name.startswith("film-")
    assert name.endswith(".mp4")
    assert (data / "review" / "film" / name).read_bytes() == film
    (job,) = jobs(log)
    assert (job.kind, job.state, job.athlete) == ("analyse", "waiting", "K. M.")
    assert job.file_name == "<b>x.mov"
    assert job.film_path == str((data / "review" / "film" / name).resolve())
    assert '"move": "throwback_pass"' in job.request["settings"]
    assert "&lt;b&gt;x.mov" in page.get("/film").text


@pytest.mark.slow
@pytest.mark.parametrize("name", ["...mp4", "con.mp4", "../..mp4"])
def test_a_film_whose_name_no_results_may_have_is_refused(page, data, who, write_film, name):
    answer = send(page, who, write_film("o.mp4", n_frames=15).read_bytes(), name=name)
    assert answer.status_code == 400
    assert "another name" in answer.text
    assert kept(data) == []


def test_a_film_can_be_held_until_the_field_is_marked(page, log, who, write_film):
    send(page, who, write_film("o.mp4", n_frames=15).read_bytes(), mark_first="1")
    assert jobs(log)[0].state == "held"
    page.post("/film/jobs", data={"go": 1}, headers=OWN)
    assert jobs(log)[0].state == "waiting"


@pytest.mark.slow
def test_the_field_of_a_film_that_waits_is_marked_on_its_first_frame(
    page, log, data, who, write_film
):
    send(page, who, write_film("o.mp4", n_frames=15).read_bytes(), mark_first="1")
    shown = page.get("/film/1/field/")
    assert shown.status_code == 200
    assert "my film.mov" in shown.text
    assert page.get("/film/1/field/frame.jpg").content.startswith(b"\xff\xd8")
    assert page.get("/film/1/field/page.js").status_code == 200
    answer = page.post("/film/1/field/solve", json={"marks": []}, headers=OWN)
    assert answer.json()["state"] == "few"
    assert page.post("/film/1/field/save", json={"marks": []}, headers=OWN).status_code == 409
    assert page.post("/film/1/field/save", json={"marks": []}).status_code == 403
    assert len(kept(data)) == 1
    for path in ("/film/2/field/", "/film/0/field/", "/film/1/field/../../x", "/film/-1/field/"):
        assert page.get(path).status_code == 404


@pytest.mark.slow
@pytest.mark.parametrize(
    "content",
    [b"", b"not a film", b"#EXTM3U\nfile:///etc/passwd\n", b"ffconcat version 1.0\nfile x\n",
     b"\x89PNG\r\n\x1a\n" + b"0" * 64, b"<html></html>", b"\x00\x00\x00\x18ftypmp42" + b"0" * 99],
)  # fmt: skip
def test_what_is_no_film_leaves_nothing(page, log, data, who, content):
    assert send(page, who, content, name="film.mp4").status_code == 400
    assert kept(data) == []
    assert jobs(log) == []


def test_sound_without_a_picture_is_refused(page, log, data, who, tmp_path):
    import av
    import numpy as np

    path = tmp_path / "sound.mp4"
    with av.open(str(path), "w") as file:
        stream = file.add_stream("aac", rate=44100)
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 1024), np.float32), "fltp", "mono")
        frame.rate = 44100
        file.mux(stream.encode(frame))
        file.mux(stream.encode())
    assert send(page, who, path.read_bytes()).status_code == 400
    assert kept(data) == []


def test_more_than_a_film_may_have_is_broken_off(page, log, data, who, write_film, monkeypatch):
    film = write_film("o.mp4", n_frames=15).read_bytes()
    monkeypatch.setattr(film_routes, "MOST_FILM_BYTES", len(film) - 1)
    answer = send(page, who, film)
    assert answer.status_code == 400
    assert kept(data) == []
    assert jobs(log) == []


def test_a_form_that_says_it_is_too_long_is_not_even_read(page, who, data):
    headers = {**OWN, "content-length": str(film_routes.MOST_FORM_BYTES + 1),
               "content-type": "multipart/form-data; boundary=b"}  # fmt: skip
    answer = page.post("/film/upload", content=b"--b", headers=headers)
    assert answer.status_code == 413
    assert kept(data) == []


@pytest.mark.slow
@pytest.mark.parametrize(
    "body",
    [b"", b"--b\r\n", b"--b--\r\n", b'--b\r\nContent-Disposition: form-data; name="film"; '
     b'filename="a.mp4"\r\n\r\n\x00\x00', b"garbage", b"--c\r\n\r\n--c--"],
)  # fmt: skip
def test_a_body_that_breaks_off_or_is_no_form_leaves_nothing(page, log, data, who, body):
    headers = {**OWN, "content-type": "multipart/form-data; boundary=b"}
    assert page.post("/film/upload", content=body, headers=headers).status_code == 400
    assert kept(data) == []
    assert jobs(log) == []


def test_too_many_parts_are_refused(page, log, data, who):
    fields = {f"f{i}": "x" for i in range(uploads.MOST_PARTS + 1)}
    assert send(page, who, b"", **fields).status_code == 400
    assert kept(data) == []


@pytest.mark.slow
@pytest.mark.parametrize(
    "told", [{"move": "x"}, {"level": "x"}, {"hand": "both"}, {"stature": "tall"}, {"who": "0"}]
)
def test_a_field_that_cannot_be_meant_leaves_no_film(page, log, data, who, told, write_film):
    film = write_film("o.mp4", n_frames=15).read_bytes()
    assert send(page, told.pop("who", who), film, **told).status_code == 400
    assert kept(data) == []


def test_a_minor_without_consent_is_not_kept(page, log, data, write_film):
    now = _now()
    with log.writing() as connection:
        number = add_athlete(connection, "Young", now)
        change_athlete(connection, number, {"minor": True})
        note_stature(connection, number, 1.5, now.date())
    film = write_film("o.mp4", n_frames=15).read_bytes()
    answer = send(page, number, film)
    assert answer.status_code == 400
    assert "consent" in answer.text
    assert kept(data) == []


@pytest.mark.slow
def test_a_disk_that_is_nearly_full_takes_no_film(page, data, who, write_film, monkeypatch):
    monkeypatch.setattr(film_routes, "enough_room", lambda folder, n_bytes: False)
    assert send(page, who, write_film("o.mp4", n_frames=15).read_bytes()).status_code == 400
    assert kept(data) == []


def test_a_job_is_claimed_once_and_waits_again_after_it_was_broken_off(log, clip):
    with log.writing() as connection:
        number = add_job(connection, "analyse", by="C.", at=_now(), request={})
        assert claim_job(connection, at=_now()).id == number
        assert claim_job(connection, at=_now()) is None
        assert queue_again(connection) == 1
        assert claim_job(connection, at=_now()).id == number
        assert note_progress(connection, number, {"stage": "x", "done": 5, "total": 10})
        assert job_of(connection, number).share == 0.5
        end_job(connection, number, "done", at=_now(), result={"clip": 1})
        assert queue_again(connection) == 0
        assert job_of(connection, number).result == {"clip": 1}


def test_a_cancelled_job_is_told_to_stop_and_stays_cancelled(log, clip):
    with log.writing() as connection:
        number = add_job(connection, "analyse", by="C.", at=_now(), request={})
        claim_job(connection, at=_now())
        assert cancel_job(connection, number, at=_now())
        assert not note_progress(connection, number, {"stage": "x"})
        end_job(connection, number, "done", at=_now(), result={})
        assert job_of(connection, number).state == "cancelled"
        assert not cancel_job(connection, number, at=_now())


def test_a_job_goes_with_its_athlete(page, log, who, write_film):
    send(page, who, write_film("o.mp4", n_frames=15).read_bytes())
    from pipeline.log.schema import ATHLETES

    with log.writing() as connection:
        connection.execute(ATHLETES.delete())
        assert connection.execute(select(func.count()).select_from(JOBS)).scalar() == 0


def test_an_athlete_who_is_forgotten_takes_the_film_along_but_not_somebody_elses_file(
    page, log, data, who, write_film, tmp_path
):
    send(page, who, write_film("o.mp4", n_frames=15).read_bytes())
    (name,) = kept(data)
    (data / "review" / "film" / name).with_suffix("").with_suffix(".marks.toml").touch()
    erase_athlete(log, "K. M.")
    assert kept(data) == []
    assert (tmp_path / "film.mp4").exists()


def _now():
    from datetime import datetime, timezone

    return datetime.now(tz=timezone.utc)
