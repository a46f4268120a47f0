"""The overlay as it is written: its times, its drawn joints, its faces, and that it plays."""

import json

import av
import cv2
import numpy as np
import pytest

from pipeline.core.types import JOINTS
from pipeline.film.writer import open_film_writer
from pipeline.report.pictures.film_plan import SLOWER, plan_film
from pipeline.report.pictures.overlay import (
    FILM_NAME,
    OverlaySettings,
    overlay_pictures,
    write_overlay,
)
from tests.bench.hidden_faces import LEFT_OF_DETAIL, scores_of
from tests.conftest import ROOT
from tests.fixtures.filmed import analysis_of, figure_px

SIZE_PX = (640, 360)
N_LEVELS = 50


def numbered(n_frames, size_px=SIZE_PX):
    """Grey pictures whose level encodes the frame's number, within `N_LEVELS`."""
    width, height = size_px
    return [np.full((height, width, 3), 5 + 5 * (i % N_LEVELS), np.uint8) for i in range(n_frames)]


def read_back(path, corner):
    """Times of a written film, s, and the numbers encoded by the grey in one of its corners."""
    with av.open(str(path)) as film:
        seen = [(frame.time, frame.to_ndarray(format="rgb24")[corner]) for frame in
                film.decode(video=0)]  # fmt: skip
    return np.array([t for t, _ in seen]), [round((float(p.mean()) - 5) / 5) for _, p in seen]


BELOW = (slice(-40, -10), slice(-40, -10))


@pytest.mark.slow
@pytest.mark.parametrize("turned_deg", [0, 90, 180])
@pytest.mark.parametrize("even", [True, False])
def test_each_frame_is_shown_at_its_own_time_also_of_uneven_and_turned_film(
    write_film, tmp_path, even, turned_deg
):
    rng = np.random.default_rng(4)
    steps = np.full(120, 1 / 30) if even else rng.choice([1 / 60, 1 / 30, 0.1, 0.25], 120)
    times_s = np.concatenate([[0.0], np.cumsum(steps[:-1])])
    path = write_film(pictures=numbered(120), times_s=times_s, rotation_deg=turned_deg)
    start_s, stop_s = float(times_s[50]), float(times_s[60])
    analysis = analysis_of(path, [(start_s, stop_s, float(times_s[55]))])
    film = write_overlay(analysis, tmp_path / "out", OverlaySettings(hide_faces=False))
    shown_s, numbers = read_back(film, BELOW)
    true, slow = plan_film(analysis.clip.time_s, analysis.reps, whole=False)
    n_true = true.frames.size
    # The picture encodes the frame's number; the film's own clock gives its time.
    assert [n % N_LEVELS for n in true.frames] == numbers[:n_true]
    first = true.frames[0]
    expected = times_s[true.frames] - times_s[first]
    assert np.abs(shown_s[:n_true] - expected).max() < 0.001
    assert [n % N_LEVELS for n in slow.frames] == numbers[n_true:]
    assert np.diff(shown_s[n_true:]) == pytest.approx(
        SLOWER * np.diff(times_s[slow.frames]), abs=0.001
    )
    with av.open(str(film)) as written:
        upright = written.streams.video[0]
        size = (upright.width, upright.height)
    assert size == (SIZE_PX if turned_deg != 90 else SIZE_PX[::-1])


@pytest.mark.slow
def test_drawn_joints_lie_on_the_stored_ones(write_film, tmp_path):
    n_frames, height_px = 20, 420.0
    path = write_film(pictures=[np.zeros((540, 960, 3), np.uint8)] * n_frames)
    places = [(300.3 + 7.7 * i, 500.6 - 0.4 * i) for i in range(n_frames)]
    joints = np.array([[figure_px(x, y, height_px) for x, y in places]])
    analysis = analysis_of(path, [(0.1, 0.5, 0.3)], joints)
    film = write_overlay(analysis, tmp_path, OverlaySettings(hide_faces=False))
    true = plan_film(analysis.clip.time_s, analysis.reps, whole=False)[0]
    first_of_body = JOINTS.index("left_shoulder")
    with av.open(str(film)) as written:
        pictures = (frame.to_ndarray(format="rgb24") for frame in written.decode(video=0))
        for frame, picture in zip(true.frames, pictures, strict=False):
            dots = dot_centres(picture)
            for joint in joints[0, frame, first_of_body:]:
                assert np.linalg.norm(dots - joint, axis=1).min() < 2.0
            assert len(dots) == len(JOINTS) - first_of_body


def dot_centres(picture):
    """(n, 2) middles of the amber dots of a picture, px."""
    red, green, blue = (picture[..., i].astype(int) for i in range(3))
    amber = ((red - blue > 90) & (green > 100)).astype(np.uint8)
    n, _, stats, centres = cv2.connectedComponentsWithStats(amber)
    return np.array([centres[i] for i in range(1, n) if stats[i, cv2.CC_STAT_AREA] > 8])


def test_only_the_athlete_is_drawn_unless_others_are_asked_for(write_film):
    path = write_film(pictures=[np.zeros((360, 640, 3), np.uint8)] * 40)
    joints = np.stack([[figure_px(x, 330.0, 200.0)] * 40 for x in (200.0, 480.0)])
    analysis = analysis_of(path, [(0.4, 0.9, 0.6)], joints)
    shots = plan_film(analysis.clip.time_s, analysis.reps, whole=False)

    def drawn(**settings):
        picture, _ = next(
            overlay_pictures(analysis, shots, OverlaySettings(hide_faces=False, **settings))
        )
        return [bool((picture[120:, part] > 150).any()) for part in (slice(340), slice(340, 640))]

    assert drawn() == [True, False]
    assert drawn(show_others=True) == [True, True]


def test_without_a_rep_there_is_no_film_unless_all_of_it_is_asked_for(write_film, tmp_path):
    analysis = analysis_of(write_film(n_frames=20), [])
    assert write_overlay(analysis, tmp_path / "out", OverlaySettings()) is None
    assert not (tmp_path / "out").exists()
    film = write_overlay(analysis, tmp_path / "out", OverlaySettings(whole=True))
    assert film.name == FILM_NAME
    with av.open(str(film)) as written:
        assert sum(1 for _ in written.decode(video=0)) == 20


@pytest.mark.slow
def test_heads_stay_hidden_while_a_person_is_lost(write_film):
    stripes = np.zeros((360, 640, 3), np.uint8)
    stripes[:, ::4] = stripes[:, 1::4] = 255
    path = write_film(pictures=[stripes] * 60, options={"crf": "5"})
    places = [(150.0 + 2.0 * i, 330.0) for i in range(60)]
    true = np.array([[figure_px(x, y, 250.0) for x, y in places]] * 2)
    true[1] += (30.0, 0.0)
    known = true.copy()
    known[1, 15:40] = np.nan  # lost beside the other one
    known[0, 50:] = np.nan  # and both at the end, one after the other
    known[1, 55:] = np.nan
    analysis = analysis_of(path, [(0.3, 1.9, 1.0)], known)
    shots = plan_film(analysis.clip.time_s, analysis.reps, whole=True)[:1]
    pictures = overlay_pictures(analysis, shots, OverlaySettings())
    for frame, (picture, _) in enumerate(pictures):
        for head in true[:, frame, :5].mean(axis=1).round().astype(int):
            x, y = head
            patch = picture[y - 6 : y + 7, x - 6 : x + 7, 0].astype(int)
            if frame < 60:
                assert np.abs(np.diff(patch, axis=1)).max() < 150, frame


@pytest.mark.slow
def test_the_film_plays_to_its_end_in_a_browser(write_film, chromium, tmp_path):
    path = write_film(pictures=numbered(24), rotation_deg=90)
    analysis = analysis_of(path, [(0.1, 0.5, 0.3)])
    film = write_overlay(analysis, tmp_path, OverlaySettings())
    page_path = tmp_path / "page.html"
    page_path.write_text(f'<video src="{film.name}" muted></video>')
    page = chromium.new_page()
    page.goto(page_path.as_uri())
    seen = page.evaluate(
        """async () => {
          const film = document.querySelector("video");
          const ended = new Promise((done, failed) => {
            film.onended = () => done(true);
            film.onerror = () => failed(new Error(film.error.message));
          });
          film.playbackRate = 4;
          await film.play();
          await ended;
          return [film.videoWidth, film.videoHeight, film.duration, film.currentTime];
        }"""
    )
    shots = plan_film(analysis.clip.time_s, analysis.reps, whole=False)
    assert seen[:2] == list(SIZE_PX[::-1])
    assert seen[2] == pytest.approx(shots[-1].shown_s[-1], abs=0.2)
    assert seen[3] == pytest.approx(seen[2], abs=0.01)


@pytest.mark.slow
def test_heads_of_a_rendered_clip_stay_hidden_in_every_frame(tmp_path):
    truth = json.loads((ROOT / "sample_clips" / "dodge_adult.truth.json").read_text())
    film = tmp_path / "part.mp4"
    n_frames = 150  # the first rep, in which two players meet
    with (
        av.open(str(ROOT / "sample_clips" / "dodge_adult.mp4")) as source,
        open_film_writer(film, (1280, 720)) as part,
    ):
        for number, frame in zip(range(n_frames), source.decode(video=0), strict=False):
            part.write(frame.to_ndarray(format="rgb24"), number / 30)
    truth["frame_times_s"] = truth["frame_times_s"][:n_frames]
    for person in truth["people"].values():
        person["joints_field_m"] = person["joints_field_m"][:n_frames]
    (tmp_path / "part.truth.json").write_text(json.dumps(truth))
    side = (ROOT / "sample_clips" / "dodge_adult.clip.toml").read_text()
    (tmp_path / "part.clip.toml").write_text(side)
    scores = scores_of(tmp_path / "part.truth.json", tmp_path / "cache")
    for who in ("athlete", "defender"):
        assert len(scores[who].kept) > 100
        assert np.median(np.abs(scores[who].kept)) < 0.15
        # The edge of a block may lie along that of the hair: then a single head keeps more.
        assert np.quantile(scores[who].kept, 0.98) < LEFT_OF_DETAIL
        assert max(scores[who].kept) < 0.6
    shown = scores_of(tmp_path / "part.truth.json", tmp_path / "cache", hide_faces=False)
    assert np.quantile(shown["athlete"].kept, 0.1) > 0.7
