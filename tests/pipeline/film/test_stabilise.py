"""Landmarks of a film from the hand lie where a camera on a stand would have shown them."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from calibration.lens_profile import distort_px, undistort_px
from calibration.turned_view import moved_points, turned
from pipeline.core.types import Clip
from pipeline.film.camera_motion import Stillness, anchors_px, judge_stillness
from pipeline.film.stabilise import FURTHEST_SHARE, bridged, stabilise, unstabilise
from pipeline.film.undistort import undistort
from pipeline.people.smoothing import smooth_tracks
from tests.fixtures.lenses import PHONE
from tests.fixtures.walker import SIZE_PX, camera_at, tracks_of, walker_joints_m

TIME_S = np.arange(60) / 30.0
CAMERA = camera_at()
STEADY = tracks_of(walker_joints_m(TIME_S, 30.0), CAMERA, 1.1)
CLIP = Clip(
    path=Path("invented.mp4"), digest="0" * 64, width_px=SIZE_PX[0], height_px=SIZE_PX[1],
    rotation_deg=0, mirrored=False, time_s=TIME_S,
)  # fmt: skip
ANCHORS_PX = anchors_px(SIZE_PX)


def held(pan_px=30.0, on_film=lambda px: px):
    """Film of the same from a phone that pans there and back and rolls a little."""
    rest = np.zeros_like(TIME_S)
    turns = np.column_stack(
        [pan_px * np.sin(2 * TIME_S), 9.0 * np.sin(3 * TIME_S), 0.02 * np.sin(TIME_S), rest,
         rest + 1.0]
    )  # fmt: skip
    to_film = turned(turns, float(CAMERA["focal_px"]), CAMERA["principal_px"])
    moved = moved_points(to_film[None], STEADY.image_px.astype(float))
    # The background is followed on the film itself, at fixed places of the first frame.
    return replace(
        STEADY,
        image_px=on_film(moved).astype(np.float32),
        camera_shift_px=np.float32(moved_points(to_film, ANCHORS_PX) - ANCHORS_PX),
        camera_misfit_px=np.full(TIME_S.size, 0.3, np.float32),
    )


def judged(tracks):
    return judge_stillness(tracks.camera_shift_px, TIME_S, SIZE_PX)


def test_landmarks_go_back_to_the_first_picture():
    film = held()
    assert np.nanmax(np.abs(film.image_px - STEADY.image_px)) > 25.0
    result = stabilise(film, CLIP, judged(film), None)
    assert result.camera.state == "steadied"
    assert result.camera.unsteady_px == pytest.approx(0.0003 * SIZE_PX[0])
    np.testing.assert_allclose(result.tracks.image_px, STEADY.image_px, atol=0.01)


def test_clean_joints_come_back_onto_the_film():
    film = held()
    result = stabilise(film, CLIP, judged(film), None)
    seen = unstabilise(smooth_tracks(result.tracks, TIME_S), result.to_film)
    expected = moved_points(result.to_film[None], smooth_tracks(STEADY, TIME_S).image_px)
    np.testing.assert_allclose(seen.image_px, expected, atol=0.1)


def test_a_still_camera_is_left_alone():
    still = Stillness(state="still", moved_px=0.2)
    result = stabilise(STEADY, CLIP, still, None)
    assert result.tracks is STEADY
    assert result.camera is still
    smooth = smooth_tracks(STEADY, TIME_S)
    assert unstabilise(smooth, result.to_film) is smooth


def test_the_lens_is_made_straight_before_the_picture_is_steadied():
    homographies = stabilise(held(), CLIP, judged(held()), None).to_film
    start = undistort_px(PHONE, ANCHORS_PX)
    bent_shift = distort_px(PHONE, moved_points(homographies, start)) - ANCHORS_PX
    film = replace(
        held(on_film=lambda px: distort_px(PHONE, px)), camera_shift_px=np.float32(bent_shift)
    )
    result = stabilise(undistort(film, PHONE), CLIP, judged(film), PHONE)
    assert np.nanmax(np.abs(result.tracks.image_px - STEADY.image_px)) < 0.3


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"shift": np.inf}, "out of sight"),
        ({"shift": np.nan}, "could not be followed"),
        ({"pan_px": 1.6 * FURTHEST_SHARE * SIZE_PX[0]}, "turned too far"),
        ({"misfit": 12.0}, "carried along"),
    ],
)
def test_what_cannot_be_steadied_has_moved_and_says_why(change, why):
    film = held(change.get("pan_px", 30.0))
    if "shift" in change:
        shift = film.camera_shift_px.copy()
        shift[20:40] = change["shift"]
        film = replace(film, camera_shift_px=shift)
    if "misfit" in change:
        film = replace(film, camera_misfit_px=np.full_like(film.camera_misfit_px, 12.0))
    result = stabilise(film, CLIP, judged(film), None)
    assert result.camera.state == "moved"
    assert why in result.camera.words
    # A phone that was carried along is steadied as well as can be, so that reps are found.
    assert (result.to_film is not None) == ("misfit" in change)


def test_short_gaps_without_movement_are_bridged_and_others_are_not():
    shift = np.zeros((12, 4, 2))
    shift[6:] = 1.0
    shift[[2, 5, 9]] = np.nan
    filled = bridged(shift, np.arange(12) / 30.0, most_px=2.0)
    assert filled[[2, 5, 9], 0, 0] == pytest.approx([0.0, 0.5, 1.0])
    assert np.isnan(bridged(shift, np.arange(12) / 30.0, most_px=1.0)[5]).all()
    assert np.isnan(bridged(shift, np.arange(12.0), most_px=2.0)[[2, 5, 9]]).all()


def test_frames_of_a_quick_turn_that_do_not_tell_are_left_out():
    film = held(200.0)
    shift = film.camera_shift_px.copy()
    shift[30:32] = np.nan
    film = replace(film, camera_shift_px=shift)
    result = stabilise(film, CLIP, judged(film), None)
    assert result.camera.state == "steadied"
    assert np.isnan(result.tracks.image_px[0, 30:32]).all()
    assert np.isnan(result.tracks.visibility[0, 30:32]).all()
    assert result.tracks.found[0, [29, 32]].all()
