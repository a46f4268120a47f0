"""The camera from marks: exact, with noise as sure as it says, and each mistake named."""

import json
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calibration.marked_field import solve_marked_field
from calibration.marks import CAMERA_PARAMETERS, Mark
from pipeline.core.errors import MarksError
from pipeline.core.messages import shipped
from tests.fixtures.marks import PLACES_M, focal_prior, marks_seen
from tests.fixtures.walker import camera_at

CAMERA = camera_at(height_m=1.5, pitch_deg=5.0, roll_deg=1.0)
PRINCIPAL_PX = CAMERA["principal_px"]
FOCAL_PX = float(CAMERA["focal_px"])
FLAT = ("left_post", "right_post", "cone_1", "cone_2", "cone_3", "cone_4")
TRUTHS = sorted((Path(__file__).resolve().parents[2] / "sample_clips").glob("*.truth.json"))


def solve(marks, prior=None, principal_px=PRINCIPAL_PX):
    return solve_marked_field(
        marks, principal_px=principal_px, prior=prior or focal_prior(1.1 * FOCAL_PX)
    )


def changed(marks, name, **changes):
    return [replace(mark, **changes) if mark.name == name else mark for mark in marks]


@pytest.mark.slow
@given(
    st.floats(-3.0, 25.0), st.floats(-15.0, 15.0), st.floats(0.5, 6.0), st.floats(800.0, 3000.0),
    st.floats(-180.0, 180.0), st.floats(-20.0, 20.0),
)  # fmt: skip
@settings(max_examples=40, deadline=None)
def test_an_exact_camera_comes_back(pitch_deg, roll_deg, height_m, focal_px, heading_deg, turn_deg):
    camera = CAMERA | {
        "focal_px": np.float64(focal_px),
        "pitch_deg": np.float64(pitch_deg),
        "roll_deg": np.float64(roll_deg),
        "height_m": np.float64(height_m),
    }
    # Wherever the camera stands, it looks about at the goal.
    angle = np.radians(heading_deg + turn_deg)
    place = (14.0 * np.sin(angle), -14.0 * np.cos(angle))
    marks = marks_seen(camera, heading_deg=heading_deg, position_m=place)
    # Little is known of the lens, so that the marks alone tell its focal length.
    found = solve(marks, focal_prior(1500.0, 0.5))
    assert found.focal_is_from_marks
    assert found.focal_px == pytest.approx(focal_px, rel=1e-6)
    assert found.height_m == pytest.approx(height_m, rel=1e-6)
    assert found.pitch_deg == pytest.approx(pitch_deg, rel=1e-6, abs=1e-6)
    assert found.roll_deg == pytest.approx(roll_deg, rel=1e-6, abs=1e-6)
    assert found.position_m == pytest.approx(place, rel=1e-6, abs=1e-6)
    assert np.cos(np.radians(found.heading_deg - heading_deg)) == pytest.approx(1.0)
    assert found.residual_px.max() < 1e-5


@pytest.mark.slow
@pytest.mark.parametrize(
    ("names", "prior"),
    [
        ((), focal_prior(1.1 * FOCAL_PX)),
        ((), focal_prior(FOCAL_PX, 0.006, is_given=True)),
        (FLAT, focal_prior(FOCAL_PX)),
        (FLAT[:4], focal_prior(FOCAL_PX, 0.02, is_given=True)),
    ],
    ids=["goal and cones", "with a lens profile", "flat", "four flat, field of view given"],
)
def test_errors_are_as_great_as_stated(names, prior):
    shifts = []
    for seed in range(50):
        generator = np.random.default_rng(seed)
        noise_px = generator.standard_normal((len(names or PLACES_M), 2))
        told = prior
        if prior.is_given:
            off = np.exp(prior.u_log * generator.standard_normal())
            told = replace(prior, focal_px=prior.focal_px * off)
        found = solve(marks_seen(CAMERA, *names, u_px=1.0, u_m=0.0, noise_px=noise_px), told)
        shifts.append(
            [(getattr(found, key) - CAMERA[key]) / found.uncertainty(key)
             for key in CAMERA_PARAMETERS]
        )  # fmt: skip
    rms = np.sqrt(np.mean(np.square(shifts), axis=0))
    assert ((rms > 0.7) & (rms < 1.4)).all(), rms


def test_uncertain_places_make_an_uncertain_camera():
    sure, unsure = (solve(marks_seen(CAMERA, u_m=u_m)) for u_m in (0.0, 0.1))
    assert unsure.uncertainty("height_m") > 2.0 * sure.uncertainty("height_m")


@pytest.mark.slow
@pytest.mark.parametrize("name", list(PLACES_M)[::3])
def test_a_wrong_mark_is_named_with_how_far_off_it_is(name):
    marks = marks_seen(CAMERA, u_m=0.005)
    x_px, y_px = next(mark.image_px for mark in marks if mark.name == name)
    wrong = changed(marks, name, image_px=(x_px + 60.0, y_px - 59.0))
    with pytest.raises(MarksError, match=f"^Mark '{name}' does not fit: it is 84 px from"):
        solve(wrong)


@pytest.mark.slow
def test_a_wrong_place_is_named_too():
    marks = changed(marks_seen(CAMERA), "cone_4", field_m=(0.5, -2.0, 0.0))
    with pytest.raises(MarksError, match=r"^Mark 'cone_4' does not fit"):
        solve(marks)


@pytest.mark.slow
@pytest.mark.parametrize(("one", "other"), list(combinations(PLACES_M, 2))[::11])
def test_exchanged_marks_are_named(one, other):
    marks = marks_seen(CAMERA)
    point = {mark.name: mark.image_px for mark in marks}
    wrong = changed(changed(marks, one, image_px=point[other]), other, image_px=point[one])
    with pytest.raises(MarksError, match=f"^The marks '{one}' and '{other}' are exchanged"):
        solve(wrong)


def test_four_marks_that_do_not_fit_are_refused_without_a_guess():
    marks = marks_seen(CAMERA, *FLAT[:4])
    x_px, y_px = marks[2].image_px
    with pytest.raises(MarksError, match=r"do not fit together.*--lens"):
        solve(changed(marks, "cone_1", image_px=(x_px + 150.0, y_px + 100.0)))


@pytest.mark.slow
def test_a_left_handed_frame_is_refused_with_the_way_to_write_it():
    marks = [
        replace(mark, field_m=(-mark.field_m[0], *mark.field_m[1:])) for mark in marks_seen(CAMERA)
    ]
    with pytest.raises(MarksError, match=r"seen in a mirror.*x to the right"):
        solve(marks)


def line(*places):
    return [
        Mark(name=f"m{i}", field_m=place, image_px=(100.0 + 90.0 * i, 500.0 + (i % 2) * 40.0))
        for i, place in enumerate(places)
    ]


def test_sets_that_give_no_camera_are_refused_with_what_to_do():
    with pytest.raises(MarksError, match=r"^3 marks are too few.*at least 4"):
        solve(marks_seen(CAMERA, *FLAT[:3]))
    with pytest.raises(MarksError, match=r"one line on the field.*both sides"):
        solve(line(*((float(i), 2.0 * i, 0.0) for i in range(5))))
    with pytest.raises(MarksError, match="one line on the field"):
        solve(line(*((1.0, 2.0, 0.0) for i in range(4))))
    in_a_row = [
        replace(mark, image_px=(100.0 * i, 400.0)) for i, mark in enumerate(marks_seen(CAMERA))
    ]
    with pytest.raises(MarksError, match="one line in the picture"):
        solve(in_a_row)
    far = [
        replace(mark, image_px=(960 + x_px / 500, 540 + y_px / 500), uncertainty_px=3.0)
        for mark in marks_seen(CAMERA)
        for x_px, y_px in [mark.image_px]
    ]
    with pytest.raises(MarksError, match=r"leave the camera's height open|could see"):
        solve(far)


@pytest.mark.slow
def test_marks_that_only_a_camera_behind_or_below_them_would_see_are_refused():
    # The picture turned upside down: seen so by a camera on its head.
    marks = [
        replace(mark, image_px=(1920.0 - mark.image_px[0], 1080.0 - mark.image_px[1]))
        for mark in marks_seen(CAMERA)
    ]
    with pytest.raises(MarksError):
        solve(marks)


@pytest.mark.slow
@pytest.mark.parametrize("path", TRUTHS, ids=[path.name for path in TRUTHS])
def test_the_sample_clips_marks_give_their_camera(path):
    truth = json.loads(path.read_text(encoding="utf-8"))
    matrix, rotation, position_m = (
        np.array(truth["camera"][key])
        for key in ("matrix", "rotation_camera_from_field", "position_field_m")
    )
    # Right-handed, though its x points to the left in the picture: the camera looks against y.
    assert np.linalg.det(rotation) == pytest.approx(1.0)
    marks = []
    for mark in truth["ground_marks"]:
        seen = matrix @ rotation @ (np.array(mark["field_m"]) - position_m)
        image_px = tuple(seen[:2] / seen[2])
        assert image_px == pytest.approx(mark["image_px"], abs=0.01)
        marks.append(
            Mark(name=mark["name"], field_m=tuple(mark["field_m"]), image_px=image_px)
        )  # fmt: skip
    found = solve(marks, focal_prior(matrix[0, 0]), matrix[:2, 2])
    right, down, forward = rotation
    assert found.focal_px == pytest.approx(matrix[0, 0], rel=1e-6)
    assert found.height_m == pytest.approx(position_m[2], rel=1e-6)
    assert found.position_m == pytest.approx(position_m[:2], rel=1e-6)
    assert found.pitch_deg == pytest.approx(-np.degrees(np.arcsin(forward[2])), abs=1e-5)
    assert found.roll_deg == pytest.approx(np.degrees(np.arctan2(-right[2], -down[2])), abs=1e-5)


@pytest.mark.slow
def test_exchanged_marks_are_told_in_the_language_that_is_read():
    point = {mark.name: mark.image_px for mark in marks_seen(CAMERA)}
    wrong = changed(marks_seen(CAMERA), "cone_1", image_px=point["cone_2"])
    wrong = changed(wrong, "cone_2", image_px=point["cone_1"])
    with pytest.raises(MarksError) as caught:
        solve(wrong)
    said = caught.value.translate(shipped("es"))
    assert said.startswith("Las marcas 'cone_1' y 'cone_2' están cambiadas entre sí. Vuelve a leer")
