"""Grade A: the marks' camera held, the athlete's size in it, from the picture to the numbers."""

from dataclasses import replace

import numpy as np
import pytest

from calibration.lens_profile import distort_px
from pipeline.analysis import analyse_tracks
from pipeline.core.errors import MarksError
from pipeline.core.results import FieldSide
from pipeline.film.camera_motion import STILL, Stillness
from pipeline.measures.ground_path import left_of_goal_m
from pipeline.people.smoothing import smooth_tracks
from pipeline.scene.from_marks import (
    find_marked_scene,
    read_scene_marks,
    scene_of_clip,
    solve_scene_marks,
)
from pipeline.scene.uncertainty import Sources, scene_drawn
from pipeline.settings.settings import AnalysisSettings
from pipeline.targets.load import load_targets
from tests.fixtures.lenses import phone
from tests.fixtures.marks import marks_seen
from tests.fixtures.players import defender, dodger, frames_s, shooter
from tests.fixtures.walker import (
    SIZE_PX,
    STATURE_M,
    camera_at,
    together,
    tracks_of,
    walker_joints_m,
)
from tests.pipeline.test_analysis import (
    BENDING,
    WIDE,
    aslant,
    clip_of,
    on_the_film_px,
    through_the_lens,
)

TIME_S = frames_s(3.0, 30.0)
CAMERA = camera_at(pitch_deg=6.0, roll_deg=-1.0)
TRACKS = smooth_tracks(tracks_of(walker_joints_m(TIME_S, 30.0), CAMERA, 1.1), TIME_S)
MARKS = solve_scene_marks(marks_seen(CAMERA), size_px=SIZE_PX)


def scene_of(tracks=TRACKS, marks=MARKS, *, stature_m=STATURE_M, seed=0, lens=None):
    return find_marked_scene(tracks, marks, stature_m=stature_m, seed=seed, lens=lens)


def test_the_marks_camera_is_the_scenes():
    scene = scene_of()
    assert scene.grade == "A"
    for name in ("focal_px", "pitch_deg", "roll_deg", "height_m"):
        draws = getattr(scene, name)
        assert draws[0] == pytest.approx(CAMERA[name], rel=1e-6)
        assert draws[1:].std() == pytest.approx(MARKS.camera.uncertainty(name), rel=0.2)
    assert scene.body_scale[0] == pytest.approx(1.1, rel=0.01)
    (note,) = scene.notes
    assert "8 marks" in note
    assert "grade A" in note
    assert "camera height 1.40 m, give or take 0." in note
    assert "0.0 px from" in note


@pytest.mark.slow
def test_the_same_seed_gives_the_same_draws():
    assert (scene_of(seed=4).body_scale == scene_of(seed=4).body_scale).all()
    assert (scene_of(seed=4).height_m[1:] != scene_of(seed=5).height_m[1:]).any()
    assert scene_of(seed=4).body_scale[0] == scene_of(seed=5).body_scale[0]


def test_a_stature_that_the_marks_speak_against_is_told():
    scene = scene_of(stature_m=2.05)
    note = scene.notes[1]
    assert note.key == "scene.stature_differs"
    assert note.values["stature"] == 2.05
    assert note.values["seen"] == pytest.approx(STATURE_M, abs=note.values["half_width"])
    assert scene.height_m[0] == scene_of().height_m[0]


def test_feet_that_never_stand_leave_the_size_to_the_stature():
    image_px, body_m = TRACKS.image_px.copy(), TRACKS.body_m
    swing_px = 400.0 * np.sin(40.0 * TIME_S)
    image_px[0, ..., 0] += swing_px[:, None]
    scene = scene_of(replace(TRACKS, image_px=image_px, body_m=body_m))
    assert scene.grade == "A"
    assert scene.body_scale[0] == pytest.approx(1.1, rel=0.03)


def test_without_an_athlete_nothing_can_be_measured_all_the_same():
    scene = scene_of(replace(TRACKS, image_px=np.full_like(TRACKS.image_px, np.nan)))
    assert scene.grade == "C"


def test_without_marks_the_scale_comes_from_the_athlete():
    settings = AnalysisSettings(stature_m=STATURE_M, move="close_gap_dodge")
    for marks, grade in ((None, "B"), (MARKS, "A")):
        scene = scene_of_clip(
            clip_of(TIME_S), TRACKS, settings, lens=None, marks=marks, camera=STILL
        )
        assert scene.grade == grade


def test_marks_of_the_first_frame_hold_in_a_steadied_film_and_not_in_one_that_moved():
    settings = AnalysisSettings(stature_m=STATURE_M, move="close_gap_dodge")
    held = Stillness(state="steadied", moved_px=31.0, unsteady_px=0.7)
    for camera, grade in ((held, "A"), (Stillness(state="moved", moved_px=31.0), "C")):
        scene = scene_of_clip(
            clip_of(TIME_S), TRACKS, settings, lens=None, marks=MARKS, camera=camera
        )
        assert scene.grade == grade
        assert ("steadied by its background" in " ".join(scene.notes)) == (grade == "A")


def test_a_mark_outside_the_picture_is_named():
    marks = [*marks_seen(CAMERA), replace(marks_seen(CAMERA)[0], name="far", image_px=(-5.0, 9.0))]
    with pytest.raises(MarksError, match=r"'far'.*\[-5, 9\] lies outside.*1920 x 1080"):
        solve_scene_marks(marks, size_px=SIZE_PX)


def test_marks_on_the_film_are_made_straight_first():
    marks = [
        replace(mark, image_px=tuple(on_the_film_px(np.array(mark.image_px))))
        for mark in marks_seen(WIDE)
    ]
    found = solve_scene_marks(marks, size_px=SIZE_PX, lens=BENDING).camera
    assert found.height_m == pytest.approx(1.4, rel=1e-4)
    # A principal point that is off is a turn of the camera, which the profile takes away.
    assert found.pitch_deg == pytest.approx(4.0, abs=0.01)
    bent = solve_scene_marks(marks, size_px=SIZE_PX).camera
    assert abs(bent.pitch_deg - 4.0) > 0.5


def test_a_mark_where_the_lens_puts_nothing_is_named():
    folding = phone(distortion=(-3.0, 0.0, 0.0, 0.0))
    assert np.isfinite(distort_px(folding, np.array([5.0, 5.0]))).all()
    marks = [replace(mark, image_px=(5.0, 5.0)) for mark in marks_seen(CAMERA)]
    with pytest.raises(MarksError, match="'left_post' lies where the lens profile puts nothing"):
        solve_scene_marks(marks, size_px=SIZE_PX, lens=folding)


@pytest.mark.slow
@pytest.mark.parametrize("bends", [False, True], ids=["pinhole", "with a lens profile"])
def test_marks_set_the_cushion_right(bends):
    time_s = frames_s(14.0)
    players = aslant(dodger(time_s)), aslant(defender(time_s))
    feet_m = [player.signals().foot_m[120, ..., :2].mean(axis=0) for player in players]
    truth_m = np.linalg.norm(feet_m[0] - feet_m[1])
    tracks = together(*(tracks_of(player.joints_m, WIDE, 1.1) for player in players))
    marks, lens = marks_seen(WIDE), None
    if bends:
        lens, tracks = BENDING, through_the_lens(tracks)
        marks = [
            replace(mark, image_px=tuple(on_the_film_px(np.array(mark.image_px)))) for mark in marks
        ]
    solved = solve_scene_marks(marks, size_px=SIZE_PX, lens=lens)

    def cushion(marks):
        analysis = analyse_tracks(
            clip_of(time_s),
            tracks,
            AnalysisSettings(stature_m=STATURE_M, move="close_gap_dodge"),
            load_targets(None),
            lens,
            marks,
        )
        return analysis.scene, analysis.reps[0].measurements["cushion_m"]

    (scene, with_marks), (_, without) = cushion(solved), cushion(None)
    assert scene.grade == "A"
    low_m, high_m = with_marks.interval95
    assert low_m <= truth_m <= high_m
    assert with_marks.value == pytest.approx(truth_m, rel=0.03)
    if not bends:
        assert abs(with_marks.value - truth_m) <= abs(without.value - truth_m)


HEADING_DEG, PLACE_M = 8.0, (0.0, -12.0)


def with_goal(**changes):
    """Marks of which the posts are called by the names of a goal."""
    marks = marks_seen(CAMERA, heading_deg=HEADING_DEG, position_m=PLACE_M, **changes)
    return [
        replace(mark, name=f"goal_{mark.name}") if mark.name.startswith(("left", "right")) else mark
        for mark in marks
    ]


@pytest.mark.slow
def test_the_goal_stands_in_the_scene_where_the_camera_sees_it():
    assert scene_of().goal_m is None
    solved = solve_scene_marks(with_goal(), size_px=SIZE_PX)
    goal_m = scene_of(marks=solved).goal_m
    assert goal_m.shape == (scene_of().n_draws, 2, 2)
    angle = np.radians(HEADING_DEG)
    axes = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    there = (solved.mouth_m - np.array(PLACE_M)) @ axes.T
    assert goal_m[0] == pytest.approx(there, abs=1e-5)
    # The mouth keeps its width in every draw, wherever it stands.
    width_m = np.linalg.norm(goal_m[:, 1] - goal_m[:, 0], axis=-1)
    assert width_m == pytest.approx(np.full_like(width_m, 1.8288 - 0.04826), abs=1e-5)


@pytest.mark.slow
def test_the_draws_of_the_goal_are_as_wide_as_the_errors_of_its_place():
    generator = np.random.default_rng(3)
    found = []
    for _ in range(40):
        noise_px = 2.0 * generator.standard_normal((8, 2))
        marks = with_goal(noise_px=noise_px, u_m=1e-4)
        found.append(scene_of(marks=solve_scene_marks(marks, size_px=SIZE_PX)).goal_m[0].mean(0))
    drawn = scene_of(marks=solve_scene_marks(with_goal(u_m=1e-4), size_px=SIZE_PX)).goal_m
    spread_m = drawn[1:].mean(axis=1).std(axis=0)
    assert spread_m == pytest.approx(np.std(found, axis=0), rel=0.35)


def test_without_the_scene_as_a_source_the_goal_stands_still():
    scene = scene_of(marks=solve_scene_marks(with_goal(), size_px=SIZE_PX))
    still = scene_drawn(scene, Sources.only("timing")).goal_m
    assert (still == scene.goal_m[0]).all()
    parts = [
        scene_drawn(scene, Sources.only(name)).goal_m - scene.goal_m[0]
        for name in ("lens", "stature", "scene")
    ]
    assert sum(parts) == pytest.approx(scene.goal_m - scene.goal_m[0], abs=1e-9)


def test_a_marked_goal_gives_the_angle_of_its_mouth_and_the_side_of_the_field():
    player = shooter(TIME_S, (2.0,))
    marks = solve_scene_marks(with_goal(), size_px=SIZE_PX)
    analysis = analyse_tracks(
        clip_of(TIME_S),
        tracks_of(player.joints_m, CAMERA, 1.1),
        AnalysisSettings(stature_m=STATURE_M, move="high_to_low_shot"),
        load_targets(None),
        marks=marks,
    )
    (rep,) = analysis.reps
    feet = player.signals().foot_m[60, :, :2].mean(axis=0)
    left, right = analysis.scene.goal_m[0] - feet
    truth_deg = np.degrees(np.arccos(left @ right / np.linalg.norm(left) / np.linalg.norm(right)))
    angle = rep.measurements["shot_angle_deg"]
    assert angle.value == pytest.approx(truth_deg, rel=0.05)
    assert 0.0 < angle.u < 2.0
    # The goal is turned and beyond him; as he faces it he stands to the left of its middle.
    assert left_of_goal_m(feet, analysis.scene.goal_m[0]) == pytest.approx(1.0, abs=0.1)
    assert rep.field_side == FieldSide("natural", None)


def marks_text(marks):
    lines = ['schema = "crossemetry.marks/1"']
    for mark in marks:
        lines += ["[[marks]]", f'name = "{mark.name}"', f"field_m = {list(mark.field_m)}",
                  f"image_px = {list(mark.image_px)}"]  # fmt: skip
    return "\n".join(lines)


def test_marks_are_read_and_solved_for_the_clips_picture(write_film, tmp_path):
    film = write_film("short.mp4", [np.zeros((1080, 1920, 3), dtype=np.uint8)] * 2)
    path = tmp_path / "marks.toml"
    settings = AnalysisSettings(stature_m=STATURE_M, move="close_gap_dodge", marks_path=path)
    path.write_text(marks_text(marks_seen(CAMERA)), encoding="utf-8")
    found = read_scene_marks(film, settings, None)
    assert found.camera.height_m == pytest.approx(1.4, rel=1e-6)
    lens = phone(focal_px=(CAMERA["focal_px"],) * 2, principal_px=(960.0, 540.0),
                 distortion=(0.0,) * 4)  # fmt: skip
    assert read_scene_marks(film, settings, lens).camera.height_m == pytest.approx(1.4, rel=1e-3)
    path.write_text(marks_text(marks_seen(CAMERA)[:3]), encoding="utf-8")
    with pytest.raises(MarksError, match=r"^marks\.toml: 3 marks are too few"):
        read_scene_marks(film, settings, None)
    assert read_scene_marks(film, replace(settings, marks_path=None), None) is None
