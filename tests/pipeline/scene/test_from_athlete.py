"""How pixels become metres: grades, draws, and the reason why there is no ground."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.core.types import JOINTS
from pipeline.film.camera_motion import Stillness
from pipeline.people.smoothing import smooth_tracks
from pipeline.scene.calibration_samples import body_size_px, model_stature
from pipeline.scene.from_athlete import REFOCUS_SPREAD, find_scene
from tests.fixtures.lenses import PHONE, phone
from tests.fixtures.players import frames_s
from tests.fixtures.walker import SIZE_PX, STATURE_M, camera_at, tracks_of, walker_joints_m

TIME_S = frames_s(3.0, 30.0)
CAMERA = camera_at()
TRACKS = smooth_tracks(tracks_of(walker_joints_m(TIME_S, 30.0), CAMERA, 1.1), TIME_S)


def scene_of(tracks=TRACKS, *, fov_deg=None, seed=0, stature_m=STATURE_M):
    return find_scene(tracks, size_px=SIZE_PX, stature_m=stature_m, fov_deg=fov_deg, seed=seed)


def test_an_athlete_who_walks_gives_grade_b_and_the_camera():
    scene = scene_of()
    assert scene.grade == "B"
    for name in ("focal_px", "pitch_deg", "roll_deg", "height_m"):
        draws = getattr(scene, name)
        assert abs(draws[0] - CAMERA[name]) < 2.0 * draws[1:].std(), name
    assert scene.body_scale[0] == pytest.approx(1.1, rel=0.02)
    assert scene.principal_px.tolist() == [960.0, 540.0]
    assert "grade B" in scene.notes[0]


def test_the_draws_lie_about_the_best_estimate():
    scene = scene_of()
    for draws in (scene.pitch_deg, scene.roll_deg, np.log(scene.height_m)):
        assert abs(draws[1:].mean() - draws[0]) < 0.3 * draws[1:].std()
    assert scene.n_draws > 100
    assert (scene.stature_m == STATURE_M).all()


def test_the_same_seed_gives_the_same_draws():
    assert (scene_of(seed=4).height_m == scene_of(seed=4).height_m).all()
    assert (scene_of(seed=4).height_m[1:] != scene_of(seed=5).height_m[1:]).any()
    assert scene_of(seed=4).height_m[0] == scene_of(seed=5).height_m[0]


def test_a_field_of_view_that_is_known_narrows_the_focal_length():
    usual, given = scene_of(), scene_of(fov_deg=65.0)
    assert given.focal_px[1:].std() < 0.5 * usual.focal_px[1:].std()


def test_a_taller_athlete_means_a_higher_camera_in_proportion():
    # The same picture of a body twice as tall is that of a scene twice as large.
    small, tall = scene_of(stature_m=1.5), scene_of(stature_m=1.65)
    assert tall.body_scale[0] / small.body_scale[0] == pytest.approx(1.1, rel=0.01)
    assert tall.height_m[0] > small.height_m[0]


def test_without_feet_the_scale_is_that_of_the_body_alone():
    image_px = TRACKS.image_px.copy()
    for part in ("heel", "toe"):
        for side in ("left", "right"):
            image_px[:, :, JOINTS.index(f"{side}_{part}")] = np.nan
    scene = scene_of(replace(TRACKS, image_px=image_px))
    assert scene.grade == "C"
    assert np.isfinite(scene.body_scale).all()
    assert scene.pitch_deg[1:].std() > 5.0
    assert "grade C" in scene.notes[0]


def scene_before(camera):
    return find_scene(
        TRACKS, size_px=SIZE_PX, stature_m=STATURE_M, fov_deg=None, seed=0, camera=camera
    )


def test_a_camera_that_moved_gives_grade_c_and_says_by_how_much():
    scene = scene_before(Stillness(state="moved", moved_px=41.6))
    assert scene.grade == "C"
    assert scene.no_ground.key == "camera.moved"
    assert scene.no_ground.values["far"].values == {"moved": 41.6}
    assert [note.key for note in scene.notes] == ["scene.moved", "scene.without_ground"]
    assert scene.notes[0].values["camera"] == scene.no_ground


def test_a_steadied_picture_keeps_the_grade_and_carries_what_is_left_of_the_movement():
    scene = scene_before(Stillness(state="steadied", moved_px=41.6, unsteady_px=0.8))
    assert scene.grade == "B"
    assert scene.unsteady_px == 0.8
    assert scene.no_ground is None
    assert scene.notes[-1].startswith("The camera was held in the hand")
    assert "(moved by up to 42 pixels): distances are less sure." in scene.notes[-1]


def test_a_camera_of_which_nothing_is_known_keeps_the_grade_and_says_so():
    scene = scene_before(Stillness(state="not told", moved_px=float("nan")))
    assert scene.grade == "B"
    assert scene.no_ground is None
    assert scene.notes[:1] == scene_of().notes
    assert scene.notes[1].startswith("Too little of the background")


def test_feet_that_never_stand_give_grade_c():
    # A body carried sideways through the picture without a step.
    image_px = TRACKS.image_px[:, :1] + np.column_stack([400.0 * TIME_S, 0 * TIME_S])[None, :, None]
    body_m = np.repeat(TRACKS.body_m[:, :1], TIME_S.size, axis=1)
    assert scene_of(replace(TRACKS, image_px=image_px, body_m=body_m)).grade == "C"


def test_frames_in_which_another_body_covers_the_athlete_are_left_out():
    overlapped = np.ones_like(TRACKS.overlapped)
    assert scene_of(replace(TRACKS, overlapped=overlapped)).grade == "C"
    overlapped[:, :45] = False
    assert scene_of(replace(TRACKS, overlapped=overlapped)).grade == "B"


def test_the_size_of_the_body_in_the_picture_is_stature_over_distance():
    joints_m = walker_joints_m(TIME_S, 90.0)
    tracks = smooth_tracks(tracks_of(joints_m, CAMERA, 1.1), TIME_S)
    distance_m = joints_m[:, JOINTS.index("left_hip"), 1]
    expected = float(CAMERA["focal_px"]) * STATURE_M / distance_m
    found = body_size_px(tracks.image_px[0], tracks.body_m[0])
    assert np.median(np.abs(found / expected - 1.0)) < 0.02
    assert np.isnan(body_size_px(np.full((4, 23, 2), np.nan), np.full((4, 23, 3), np.nan))).all()


def test_the_models_own_stature_scales_with_its_body():
    # The pose model's body leaves 1.2 % of standard uncertainty: 2.4 % at 95 %.
    assert model_stature(1.1 * TRACKS.body_m[0], TRACKS.model) == pytest.approx(
        STATURE_M, rel=0.024
    )


def test_a_lens_profile_gives_focal_length_principal_point_and_its_name():
    focal_px = float(CAMERA["focal_px"])
    lens = phone(focal_px=(focal_px, focal_px), principal_px=(960.0, 540.0))
    scene = find_scene(
        TRACKS, size_px=SIZE_PX, stature_m=STATURE_M, fov_deg=None, seed=0, lens=lens
    )
    assert scene.lens is lens
    assert scene.focal_px[0] == pytest.approx(focal_px, rel=0.005)
    relative = np.log(scene.focal_px[1:]).std()
    assert relative == pytest.approx(np.hypot(0.001, REFOCUS_SPREAD), rel=0.25)
    assert relative < 0.5 * np.log(scene_of(fov_deg=65.0).focal_px[1:]).std()
    assert scene.principal_px.tolist() == [960.0, 540.0]
    assert f"profile '{lens.name}' of 2026-03-01" in " ".join(scene.notes)
    assert "grade B" in scene.notes[0]


def test_a_lens_profile_is_named_even_when_the_ground_is_not_found():
    overlapped = np.ones_like(TRACKS.overlapped)
    scene = find_scene(
        replace(TRACKS, overlapped=overlapped), size_px=SIZE_PX, stature_m=STATURE_M,
        fov_deg=None, seed=0, lens=PHONE,
    )  # fmt: skip
    assert scene.grade == "C"
    assert PHONE.name in " ".join(scene.notes)
    assert scene.focal_px[0] == PHONE.straight_focal_px
