"""When a film was made, and which files are the same film."""

import os
import time
from datetime import date, datetime, timezone
from fractions import Fraction

import av
import numpy as np
import pytest

from pipeline.core.errors import UnreadableClip
from pipeline.log.film_date import film_date, recorded_at, stream_digest


@pytest.fixture
def berlin(monkeypatch):
    """A clock that is changed twice a year."""
    if not hasattr(time, "tzset"):
        pytest.skip("the zone of a process cannot be set here")
    monkeypatch.setenv("TZ", "Europe/Berlin")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


def remuxed(source, target, container, **metadata):
    """The same coded pictures in another container."""
    with av.open(str(source)) as old, av.open(str(target), "w", format=container) as new:
        stream = new.add_stream_from_template(old.streams.video[0])
        new.metadata.update(metadata)
        for packet in old.demux(video=0):
            if packet.dts is not None:
                packet.stream = stream
                new.mux(packet)
    return target


@pytest.mark.parametrize(
    ("metadata", "expected"),
    [
        ({"creation_time": "2026-09-01T16:30:00.000000Z"}, "2026-09-01T16:30:00+00:00"),
        ({"creation_time": "2026-09-01T16:30:00Z"}, "2026-09-01T16:30:00+00:00"),
        (
            {
                "com.apple.quicktime.creationdate": "2026-09-01T23:30:00-0400",
                "creation_time": "2026-09-02T03:30:00.000000Z",
            },
            "2026-09-01T23:30:00-04:00",
        ),
    ],
)
def test_what_a_film_says_of_itself(metadata, expected):
    assert recorded_at(metadata).isoformat() == expected


@pytest.mark.parametrize(
    "written", ["1904-01-01T00:00:00.000000Z", "1970-01-01T00:00:00.000000Z", "yesterday", "",
             "2099-01-01T00:00:00.000000Z"],
)  # fmt: skip
def test_a_clock_that_was_never_set_gives_no_date(written):
    assert recorded_at({"creation_time": written}) is None


def test_the_day_is_that_of_the_films_own_record(write_film, tmp_path, berlin):
    film = remuxed(
        write_film(), tmp_path / "made.mp4", "mp4", creation_time="2026-09-01T22:30:00.000000Z"
    )
    dated = film_date(film)
    assert dated.by == "film"
    assert dated.day == date(2026, 9, 2)  # half past midnight there
    assert dated.at == datetime(2026, 9, 1, 22, 30, tzinfo=timezone.utc)


@pytest.mark.parametrize(
    ("at", "day"),
    [
        # The night of 2026-10-25 has an hour twice, that of 2026-03-29 has one less.
        ("2026-10-24T21:59:00.000000Z", date(2026, 10, 24)),
        ("2026-10-24T22:01:00.000000Z", date(2026, 10, 25)),
        ("2026-10-25T00:30:00.000000Z", date(2026, 10, 25)),
        ("2026-10-25T22:59:00.000000Z", date(2026, 10, 25)),
        ("2026-10-25T23:01:00.000000Z", date(2026, 10, 26)),
        ("2026-03-28T22:59:00.000000Z", date(2026, 3, 28)),
        ("2026-03-28T23:01:00.000000Z", date(2026, 3, 29)),
        ("2026-03-29T21:59:00.000000Z", date(2026, 3, 29)),
        ("2026-03-29T22:01:00.000000Z", date(2026, 3, 30)),
    ],
)
def test_days_end_at_midnight_also_when_the_clock_is_changed(write_film, tmp_path, berlin, at, day):
    film = remuxed(write_film(), tmp_path / "made.mp4", "mp4", creation_time=at)
    assert film_date(film).day == day


def test_without_a_record_the_day_is_that_of_the_last_change(write_film, berlin):
    film = write_film()
    changed = datetime(2026, 9, 1, 22, 30, tzinfo=timezone.utc).timestamp()
    os.utime(film, (changed, changed))
    dated = film_date(film)
    assert (dated.by, dated.day) == ("file", date(2026, 9, 2))


def test_a_day_that_was_told_comes_first(write_film, tmp_path, berlin):
    film = remuxed(
        write_film(), tmp_path / "made.mp4", "mp4", creation_time="2026-09-01T10:00:00.000000Z"
    )
    given = film_date(film, date(2026, 8, 30))
    assert (given.by, given.day, given.at) == ("told", date(2026, 8, 30), None)
    assert film_date(film, date(2026, 9, 1)).at is not None


@pytest.mark.parametrize("codec", ["libx264", "libx265"])
@pytest.mark.parametrize(("ending", "container"), [("mkv", "matroska"), ("mov", "mov"),
                                                    ("ts", "mpegts")])  # fmt: skip
def test_the_same_pictures_in_another_container_are_the_same_film(
    write_film, tmp_path, codec, ending, container
):
    options = {"x265-params": "log-level=none"} if codec == "libx265" else {}
    film = write_film(codec=codec, options=options)
    copy = remuxed(film, tmp_path / f"copy.{ending}", container)
    assert copy.read_bytes() != film.read_bytes()
    assert stream_digest(copy) == stream_digest(film)


def test_another_film_and_another_coding_are_other_films(write_film):
    film = write_film()
    shorter = write_film("shorter.mp4", n_frames=11)
    again = write_film("again.mp4", options={"crf": "40"})
    assert len({stream_digest(path) for path in (film, shorter, again)}) == 3


def test_sound_makes_no_other_film(write_film, tmp_path):
    film = write_film()
    with_sound = tmp_path / "sound.mp4"
    with av.open(str(film)) as old, av.open(str(with_sound), "w") as new:
        stream = new.add_stream_from_template(old.streams.video[0])
        sound = new.add_stream("aac", rate=44100)
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 1024), np.float32), "fltp", "mono")
        frame.sample_rate, frame.pts, frame.time_base = 44100, 0, Fraction(1, 44100)
        for packet in old.demux(video=0):
            if packet.dts is not None:
                packet.stream = stream
                new.mux(packet)
        new.mux(sound.encode(frame))
        new.mux(sound.encode())
    assert stream_digest(with_sound) == stream_digest(film)


def test_what_is_no_film_is_refused(tmp_path):
    path = tmp_path / "notes.mp4"
    path.write_text("no film")
    for look in (film_date, stream_digest):
        with pytest.raises(UnreadableClip):
            look(path)
