"""Tracks made straight and put back onto the film."""

from dataclasses import replace

import numpy as np
import pytest

from calibration.lens_file import lens_profile_text
from calibration.lens_profile import undistort_px
from pipeline.core.errors import LensProfileError
from pipeline.core.types import Clip
from pipeline.film.undistort import distort, lens_of, read_lens, undistort
from pipeline.people.smoothing import smooth_tracks
from tests.fixtures.lenses import PHONE
from tests.fixtures.players import frames_s
from tests.fixtures.walker import camera_at, tracks_of, walker_joints_m

TIME_S = frames_s(1.0, 30.0)
TRACKS = tracks_of(walker_joints_m(TIME_S, 30.0), camera_at(), 1.1)


def clip_of(tmp_path, **changes):
    clip = Clip(
        path=tmp_path / "a.mp4", digest="0", width_px=1920, height_px=1080, rotation_deg=0,
        mirrored=False, time_s=TIME_S,
    )  # fmt: skip
    return replace(clip, **changes)


def test_only_the_image_points_move():
    straight = undistort(TRACKS, PHONE)
    assert np.abs(straight.image_px - undistort_px(PHONE, TRACKS.image_px)).max() < 1e-3
    assert straight.image_px.dtype == TRACKS.image_px.dtype
    assert straight.world_m is TRACKS.world_m
    assert straight.visibility is TRACKS.visibility


def test_joints_come_back_onto_the_film():
    smooth = smooth_tracks(undistort(TRACKS, PHONE), TIME_S)
    seen = smooth_tracks(TRACKS, TIME_S)
    back = distort(smooth, PHONE)
    assert np.nanmax(np.abs(smooth.image_px - seen.image_px)) > 1.5
    assert np.nanmax(np.abs(back.image_px - seen.image_px)) < 0.5


def test_without_a_lens_nothing_is_done():
    smooth = smooth_tracks(TRACKS, TIME_S)
    assert undistort(TRACKS, None) is TRACKS
    assert distort(smooth, None) is smooth


def test_the_lens_is_scaled_and_turned_for_the_clip(tmp_path):
    assert lens_of(clip_of(tmp_path), None) is None
    assert lens_of(clip_of(tmp_path), PHONE) == PHONE
    portrait = clip_of(tmp_path, width_px=720, height_px=1280, rotation_deg=90)
    lens = lens_of(portrait, PHONE)
    assert lens.focal_px == pytest.approx((1002.0, 1000.0))
    assert lens.principal_px == pytest.approx(((1080 - 531.0) * 2 / 3, 975.0 * 2 / 3))


def test_a_lens_of_another_picture_is_refused_before_the_work(tmp_path, write_film):
    path = tmp_path / "phone.toml"
    path.write_text(lens_profile_text(PHONE), encoding="utf-8")
    assert read_lens(None, tmp_path / "none.mp4") is None
    assert read_lens(path, write_film(size_px=(128, 72))) == PHONE
    with pytest.raises(LensProfileError, match="64 x 48"):
        read_lens(path, write_film(size_px=(64, 48)))
