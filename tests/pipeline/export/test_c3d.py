"""C3D is read back by another library than the one that wrote it."""

import io
import warnings
from dataclasses import replace

import c3d
import numpy as np
import pytest

from pipeline.core.errors import OutputError
from pipeline.core.types import JOINTS
from pipeline.export import c3d as c3d_file
from pipeline.export.c3d import c3d_bytes, events_of, point_labels
from pipeline.export.film_data import FilmData
from tests.fixtures.films import LOST, dodge_film

pytestmark = pytest.mark.slow


def read(data):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the reader warns of files without analog data
        reader = c3d.Reader(io.BytesIO(data))
    return reader, np.stack([points.copy() for _, points, _ in reader.read_frames()])


def texts(reader, name):
    return [text.strip() for text in reader.get(name).string_array]


def test_joints_come_back_in_millimetres_under_their_names():
    film, _ = dodge_film()
    reader, points = read(c3d_bytes(film))
    assert [label.strip() for label in reader.point_labels] == point_labels(2)
    assert point_labels(2)[: len(JOINTS)] == list(JOINTS)
    assert point_labels(2)[-1] == "defender_right_toe"
    assert reader.get("POINT:UNITS").string_value == "mm"
    assert reader.point_rate == pytest.approx(60.0)
    expected_mm = 1000.0 * np.moveaxis(film.paths.joints_m, 0, 1).reshape(len(points), -1, 3)
    known = np.isfinite(expected_mm).all(axis=-1)
    assert points[..., :3][known] == pytest.approx(expected_mm[known], abs=0.01)
    assert (points[..., 3][known] == 0.0).all()


def test_what_is_missing_has_the_residual_that_says_so():
    film, _ = dodge_film()
    _, points = read(c3d_bytes(film))
    missing = np.isnan(np.moveaxis(film.paths.joints_m, 0, 1)).any(axis=-1).reshape(len(points), -1)
    assert missing[(LOST.start + LOST.stop) // 2].all()
    assert ((points[..., 3] == -1.0) == missing).all()


def test_events_of_the_reps_are_there_by_name_and_time():
    film, _ = dodge_film()
    reader, _ = read(c3d_bytes(film))
    rep = film.analysis.reps[0].rep
    minutes, seconds = reader.get("EVENT:TIMES").float_array.reshape(-1, 2).T
    found = dict(zip(texts(reader, "EVENT:LABELS"), 60 * minutes + seconds, strict=True))
    expected = {name: event.time_s for name, event in rep.events.items()}
    assert found == pytest.approx({**expected, "stop": rep.stop_s}, abs=1e-5)
    assert set(texts(reader, "EVENT:DESCRIPTIONS")) == {"rep 1, close_gap_dodge"}


def test_it_says_how_its_even_rate_and_its_axes_came_about():
    reader, _ = read(c3d_bytes(dodge_film()[0]))
    assert "splines" in texts(reader, "CROSSEMETRY:RATE_SAYS")[0]
    assert "z up" in texts(reader, "CROSSEMETRY:FRAME")[0]
    assert reader.get("CROSSEMETRY:SCALE_GRADE").string_value.strip() == "B"


def cut(film, frames, time_s=None):
    """The film with these frames only."""
    time_s = film.paths.time_s[frames] if time_s is None else time_s
    return FilmData(
        analysis=replace(film.analysis, clip=replace(film.analysis.clip, time_s=time_s)),
        tracks=film.tracks,
        paths=replace(
            film.paths,
            time_s=time_s,
            joints_m=film.paths.joints_m[:, frames],
            u_m=film.paths.u_m[:, frames],
        ),
    )


def test_uneven_times_of_the_film_become_even_ones_at_the_right_instants():
    film, _ = dodge_film()
    frames = np.delete(np.arange(380), [100, 200, 201, 301])
    _, points = read(c3d_bytes(cut(film, frames)))
    whole_mm = 1000.0 * film.paths.joints_m[0, :380]
    assert len(points) == 380
    assert np.abs(points[:, : len(JOINTS), :3] - whole_mm).max() < 20.0


def test_many_events_are_all_there():
    film, _ = dodge_film()
    analysis = replace(film.analysis, reps=film.analysis.reps * 60)
    reader, _ = read(c3d_bytes(replace(film, analysis=analysis)))
    assert len(texts(reader, "EVENT:LABELS")) == 255
    assert len(texts(reader, "EVENT:LABELS2")) == len(events_of(analysis)) - 255
    assert reader.get("EVENT:USED").int16_value == len(events_of(analysis))


def test_a_film_without_reps_has_no_events():
    film, _ = dodge_film()
    reader, _ = read(c3d_bytes(replace(film, analysis=replace(film.analysis, reps=()))))
    assert reader.get("EVENT:USED").int16_value == 0


def test_a_single_frame_is_no_motion():
    with pytest.raises(OutputError, match=r"dodges\.mp4: .* more than one frame"):
        c3d_bytes(cut(dodge_film()[0], np.array([0])))


def test_more_frames_than_the_format_counts_are_refused(monkeypatch):
    monkeypatch.setattr(c3d_file, "MOST_FRAMES", 400)
    with pytest.raises(OutputError, match=r"420 frames are more .* Parquet"):
        c3d_bytes(dodge_film()[0])
