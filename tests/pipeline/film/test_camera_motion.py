"""A camera that stands still is called so, whatever moves before it; one that moves is noticed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from pipeline.analysis import analyse_clip
from pipeline.film.camera_motion import AWAY_S, StillnessWatch, judge_stillness
from pipeline.film.clip import open_clip
from pipeline.settings.settings import AnalysisSettings

CLIPS = Path(__file__).resolve().parents[3] / "sample_clips"
NAMES = ("shot_left_hand", "shot_adult", "dodge_adult", "throwback_youth")
NOBODY = np.empty((0, 33, 2))
WIDTH_PX, HEIGHT_PX = 640, 360
MARGIN_PX = 160
STEP_S = 0.25


def texture(seed=0, width_px=WIDTH_PX, height_px=HEIGHT_PX):
    """Grey blotches of about 8 px, with a margin on all sides to move in."""
    import cv2

    shape = (height_px + 2 * MARGIN_PX, width_px + 2 * MARGIN_PX)
    noise = np.random.default_rng(seed).normal(size=shape)
    blotches = cv2.GaussianBlur(noise, (0, 0), 4.0)
    grey = np.clip(128 + 60 * blotches / blotches.std(), 0, 255).astype(np.uint8)
    return np.repeat(grey[..., None], 3, axis=-1)


GROUND = texture()
BLOCK = texture(1)


def view(big, shift_px, width_px=WIDTH_PX, height_px=HEIGHT_PX):
    """What is seen when what is before the camera has moved by whole pixels (x, y)."""
    left, top = MARGIN_PX - shift_px[0], MARGIN_PX - shift_px[1]
    return big[top : top + height_px, left : left + width_px].copy()


def watched(pictures, bodies=lambda i: NOBODY):
    """(n_pictures, 4, 2) shifts of pictures a quarter of a second apart."""
    watch = StillnessWatch()
    for i, picture in enumerate(pictures):
        watch.see(picture, i, STEP_S * i, bodies(i))
    return watch.shift_px(len(pictures))


def judged(shifts):
    return judge_stillness(shifts, STEP_S * np.arange(len(shifts)), (WIDTH_PX, HEIGHT_PX))


def shaken(n_pictures, seed, step_px=6):
    steps = np.random.default_rng(seed).integers(-step_px, step_px + 1, (n_pictures, 2))
    return np.clip(np.cumsum(steps, axis=0) - steps[0], -MARGIN_PX, MARGIN_PX)


@pytest.mark.slow
def test_a_known_shift_is_told_exactly():
    way = np.array(
        [(0, 0), (6, 0), (6, -14), (-31, 20), (-70, 44), (-100, 60), (-60, 40), (-20, 0), (0, 0)]
    )
    shifts = watched([view(GROUND, shift) for shift in way])
    np.testing.assert_allclose(shifts, np.repeat(way[:, None], 4, axis=1), atol=0.15)
    found = judged(shifts)
    assert found.state == "moved"
    assert found.moved_px == pytest.approx(np.hypot(106, 74), abs=0.5)


def test_a_zoom_and_a_turn_about_the_middle_are_movements():
    import cv2

    picture = view(GROUND, (0, 0))
    for angle_deg, zoom in ((0.0, 1.03), (2.0, 1.0)):
        matrix = cv2.getRotationMatrix2D((WIDTH_PX / 2, HEIGHT_PX / 2), angle_deg, zoom)
        moved = cv2.warpAffine(picture, matrix, (WIDTH_PX, HEIGHT_PX))
        shifts = watched([picture, picture, moved])
        assert np.abs(shifts[2].mean(axis=0)).max() < 0.3  # the middle stays where it is
        assert judged(shifts).state == "moved"


@pytest.mark.parametrize("camera", [(0, 0), (5, 3)])
def test_a_block_over_a_third_of_the_picture_that_moves_does_not_matter(camera):
    pictures = []
    for i in range(12):
        picture = view(GROUND, (camera[0] * i, camera[1] * i))
        foreground = view(BLOCK, (-9 * i, 0))
        picture[:, 200:413] = foreground[:, 200:413]
        pictures.append(picture)
    shifts = watched(pictures)
    expected = np.arange(12)[:, None, None] * np.array(camera)
    np.testing.assert_allclose(shifts, np.broadcast_to(expected, shifts.shape), atol=0.6)
    assert judged(shifts).state == ("moved" if any(camera) else "still")


def test_bodies_that_are_followed_are_left_out():
    def bodies(i):
        return np.array([[(40.0, 60.0), (480.0, 300.0)]])

    pictures = []
    for i in range(8):
        picture = view(GROUND, (0, 0))
        picture[20:340, 20:500] = view(BLOCK, (4 * i, 0))[20:340, 20:500]
        pictures.append(picture)
    assert judged(watched(pictures, bodies)).state == "still"


@pytest.mark.parametrize("shift_px", [0, 12])
def test_grass_and_leaves_that_sway_over_nearly_half_of_the_picture_do_not_matter(shift_px):
    random = np.random.default_rng(2)
    pictures = []
    for i in range(12):
        picture = view(GROUND, (shift_px if i > 5 else 0, 0))
        for left in range(0, WIDTH_PX, 40):  # each tuft to a place of its own
            x, y = random.integers(-10, 11, 2)
            picture[200:, left : left + 40] = view(BLOCK, (x, y))[200:, left : left + 40]
        pictures.append(picture)
    found = judged(watched(pictures))
    assert found.state == ("moved" if shift_px else "still")
    assert found.moved_px == pytest.approx(shift_px, abs=1.5)


def test_light_that_fades_and_a_soft_shadow_that_passes_are_no_movement():
    columns = np.arange(WIDTH_PX)
    pictures = []
    for i in range(16):
        shadow = 1.0 - 0.4 / (1.0 + np.exp(-(40.0 * i - columns) / 30.0))
        lit = view(GROUND, (0, 0)) * (1.0 - 0.02 * i) * shadow[None, :, None]
        pictures.append(lit.astype(np.uint8))
    found = judged(watched(pictures))
    assert found.state == "still"
    assert found.moved_px < 1.0


def test_too_little_texture_is_not_told():
    plain = np.full((HEIGHT_PX, WIDTH_PX, 3), 114, np.uint8)
    found = judged(watched([plain] * 8))
    assert found.state == "not told"
    assert np.isnan(found.moved_px)
    noise = np.random.default_rng(0)
    grainy = [plain + noise.integers(0, 9, plain.shape, np.uint8) for _ in range(8)]
    assert judged(watched(grainy)).state == "not told"


@pytest.mark.slow
def test_a_background_that_comes_back_is_still_and_one_that_does_not_has_moved():
    here, elsewhere = view(GROUND, (0, 0)), view(BLOCK, (0, 0))
    short, long = int(AWAY_S / STEP_S), int(AWAY_S / STEP_S) + 2
    passing = [here] * 20 + [elsewhere] * short + [here] * 20
    assert judged(watched(passing)).state == "still"
    found = judged(watched([here] * 6 + [elsewhere] * long))
    assert found.state == "moved"
    assert np.isinf(found.moved_px)
    assert found.words.values["far"].key == "camera.too_far"


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(5))
def test_mirrored_pictures_give_the_mirrored_shift(seed):
    pictures = [view(GROUND, shift) for shift in shaken(10, seed)]
    plain = watched(pictures)
    mirrored = watched([np.ascontiguousarray(picture[:, ::-1]) for picture in pictures])
    # Left and right places change sides, and x its sign.
    np.testing.assert_allclose(mirrored[:, [1, 0, 3, 2]] * (-1, 1), plain, atol=0.3)


def test_a_larger_film_is_judged_in_parts_of_its_side():
    shifts = np.zeros((12, 4, 2))
    shifts[6:, :, 0] = 3.0
    time_s = STEP_S * np.arange(12)
    assert judge_stillness(shifts, time_s, (640, 360)).state == "moved"
    assert judge_stillness(shifts, time_s, (720, 1280)).state == "still"


def test_a_phone_that_sinks_slowly_may_do_so_up_to_a_point():
    time_s = np.arange(0.0, 120.0, STEP_S)
    sunk = np.repeat(np.linspace(0.0, 1.0, time_s.size)[:, None, None] * (0.0, 1.0), 4, axis=1)
    assert judge_stillness(5.0 * sunk, time_s, (1280, 720)).state == "still"
    found = judge_stillness(20.0 * sunk, time_s, (1280, 720))
    assert found.state == "moved"
    assert found.words.key == "camera.moved"
    assert found.words.values["far"].values["moved"] == pytest.approx(20.0, abs=0.5)


def test_too_few_told_pictures_are_not_called_still():
    shifts = np.full((40, 4, 2), np.nan)
    assert judged(shifts).state == "not told"
    shifts[:12] = 0.0
    found = judged(shifts)
    assert found.state == "not told"
    assert "too little of the background" in found.words
    shifts[12:24] = 0.0
    assert judged(shifts).state == "still"


def windowed(name, way, seconds):
    """Judge a sample clip through a window that moves; nobody is told to be a body."""
    watch, times_s = StillnessWatch(), []
    with open_clip(CLIPS / f"{name}.mp4") as reader:
        for frame in reader:
            if frame.time_s > seconds:
                break
            left, top = 200 + np.array(way(frame.index, frame.time_s))
            window = frame.rgb[top - 100 : top + 400, left : left + 880]
            watch.see(window, frame.index, frame.time_s, NOBODY)
            times_s.append(frame.time_s)
    return judge_stillness(watch.shift_px(len(times_s)), np.array(times_s), (880, 500))


SHAKE = shaken(200, 7, step_px=3)


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES[::2])
def test_the_sample_clips_stand_still_until_their_picture_is_moved(name):
    assert windowed(name, lambda i, t: (0, 0), 4.0).state == "still"
    moves = {
        "pan": lambda i, t: (min(5 * i, 200), 0),
        "shake": lambda i, t: SHAKE[i],
        "knock that stays": lambda i, t: (15 if t > 2.0 else 0, 0),
        "knock that swings back": lambda i, t: (15 if 2.0 < t < 2.3 else 0, 0),
    }
    for said, way in moves.items():
        assert windowed(name, way, 4.0).state == "moved", said


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_whole_sample_clips_are_still(name):
    watch, times_s = StillnessWatch(), []
    with open_clip(CLIPS / f"{name}.mp4") as reader:
        for frame in reader:
            watch.see(frame.rgb, frame.index, frame.time_s, NOBODY)
            times_s.append(frame.time_s)
    size_px = (reader.width_px, reader.height_px)
    found = judge_stillness(watch.shift_px(len(times_s)), np.array(times_s), size_px)
    assert found.state == "still"
    assert found.moved_px < 1.0


@pytest.mark.slow
@pytest.mark.parametrize("pan_px", [0, 2])
def test_a_film_panned_by_hand_is_steadied_and_says_so(write_film, tmp_path, pan_px):
    pictures = []
    with open_clip(CLIPS / "shot_left_hand.mp4") as reader:
        for frame in reader:
            if frame.index >= 90:
                break
            left = 80 + min(pan_px * frame.index, 180)
            pictures.append(np.ascontiguousarray(frame.rgb[:, left : left + 960]))
    film = write_film(pictures=pictures)
    analysis = analyse_clip(
        film,
        AnalysisSettings(stature_m=1.88, move="high_to_low_shot"),
        cache_dir=tmp_path / "cache",
    )
    assert analysis.scene.grade == "B"
    held = "held in the hand" in " ".join(analysis.scene.notes)
    assert held == (pan_px > 0)
    assert (analysis.to_film is not None) == (pan_px > 0)
