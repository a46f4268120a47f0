"""The scene where marks on the field give the camera (grade A), and the athlete's size in it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from calibration.known_athlete import BodySamples, fit_body_scale
from calibration.lens_profile import for_picture, undistort_px
from calibration.marked_field import solve_marked_field
from calibration.marked_goal import goal_draws_m, goal_mouth_m
from calibration.marks import CAMERA_PARAMETERS, FocalPrior, Mark, MarkedCamera
from calibration.marks_file import read_marks
from pipeline.core.errors import MarksError
from pipeline.core.messages import message
from pipeline.core.types import Clip, FloatArray, LensProfile, Scene, SmoothTracks
from pipeline.film.camera_motion import Stillness
from pipeline.film.clip import open_clip
from pipeline.scene.calibration_samples import calibration_samples
from pipeline.scene.from_athlete import (
    feet_not_seen,
    find_scene,
    lens_notes,
    optics,
    with_doubts,
)
from pipeline.scene.from_body import BODY_SCALE_SPREAD, N_DRAWS
from pipeline.settings.settings import AnalysisSettings

DISAGREES_U = 3.0
"""Standard uncertainties by which stature and body may differ before it is reported."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SceneMarks:
    """The camera that marks gave for a clip's picture.

    Attributes
    ----------
    camera
        As solved.
    principal_px
        (2,) the principal point that it was solved with.
    mouth_m
        (2, 2) x and y of the inner edges of the goal's posts in the marks' frame; None where the
        marks show no goal.
    """

    camera: MarkedCamera
    principal_px: FloatArray
    mouth_m: FloatArray | None = None


def scene_of_clip(
    clip: Clip,
    tracks: SmoothTracks,
    settings: AnalysisSettings,
    *,
    lens: LensProfile | None,
    marks: SceneMarks | None,
    camera: Stillness,
) -> Scene:
    """Find how pixels become metres: from marks if there are any, else from the athlete."""
    if marks is not None and camera.state != "moved":
        scene = find_marked_scene(
            tracks, marks, stature_m=settings.stature_m, seed=settings.seed, lens=lens
        )
        return with_doubts(scene, camera)
    return find_scene(
        tracks,
        size_px=(clip.width_px, clip.height_px),
        stature_m=settings.stature_m,
        fov_deg=settings.fov_deg,
        seed=settings.seed,
        lens=lens,
        camera=camera,
    )


def read_scene_marks(
    clip_path: Path, settings: AnalysisSettings, profile: LensProfile | None
) -> SceneMarks | None:
    """Read the marks that were named and solve their camera, before any long work.

    Parameters
    ----------
    clip_path
        The film.
    settings
        For the file of marks and the field of view.
    profile
        The lens as it was measured, if it was.

    Returns
    -------
    SceneMarks or None
        None when no marks were named.

    Raises
    ------
    MarksError
        The file is wrong, or its marks do not give a camera; names the file.
    LensProfileError
        The profile is of another picture than the clip's.
    ClipError
        The film cannot be used.
    """
    path = settings.marks_path
    if path is None:
        return None
    marks = read_marks(path)
    with open_clip(clip_path) as reader:
        size_px, rotation_deg = (reader.width_px, reader.height_px), reader.rotation_deg
    lens = None
    if profile is not None:
        lens = for_picture(
            profile, width_px=size_px[0], height_px=size_px[1], rotation_deg=rotation_deg
        )
    try:
        return solve_scene_marks(marks, size_px=size_px, fov_deg=settings.fov_deg, lens=lens)
    except MarksError as error:
        wrong, what_to_do = error.message, error.what_to_do
        raise MarksError.of("at", place=path.name, wrong=wrong, do=what_to_do) from error


def solve_scene_marks(
    marks: Sequence[Mark],
    *,
    size_px: tuple[int, int],
    fov_deg: float | None = None,
    lens: LensProfile | None = None,
) -> SceneMarks:
    """Solve the camera from marks as they are seen on the film.

    Parameters
    ----------
    marks
        Image points in px of the upright picture.
    size_px
        Width and height of that picture.
    fov_deg
        Field of view along the long side, if known.
    lens
        The lens as measured, for this picture; it comes before `fov_deg`.

    Returns
    -------
    SceneMarks

    Raises
    ------
    MarksError
        A mark lies outside the picture, or the marks do not give a camera.
    """
    for mark in marks:
        x_px, y_px = mark.image_px
        if not (0 <= x_px <= size_px[0] and 0 <= y_px <= size_px[1]):
            at, (width, height) = f"[{x_px:g}, {y_px:g}]", size_px
            raise MarksError.of(
                "mark_outside_picture", mark=mark.name, at=at, width=width, height=height
            )
    principal_px, focal_px, u_log = optics(size_px, fov_deg, lens)
    prior = FocalPrior(
        focal_px=focal_px, u_log=u_log, is_given=lens is not None or fov_deg is not None
    )
    straight = [_straight(mark, lens) for mark in marks]
    camera = solve_marked_field(straight, principal_px=principal_px, prior=prior)
    return SceneMarks(camera=camera, principal_px=principal_px, mouth_m=goal_mouth_m(marks))


def _straight(mark: Mark, lens: LensProfile | None) -> Mark:
    """Move a mark to where a lens without distortion would have put it."""
    if lens is None:
        return mark
    x_px, y_px = undistort_px(lens, np.array(mark.image_px))
    if not (math.isfinite(x_px) and math.isfinite(y_px)):
        raise MarksError.of("mark_beyond_lens", mark=mark.name)
    return replace(mark, image_px=(float(x_px), float(y_px)))


def find_marked_scene(
    tracks: SmoothTracks,
    marks: SceneMarks,
    *,
    stature_m: float,
    seed: int,
    lens: LensProfile | None = None,
) -> Scene:
    """Make the scene of grade A: the marks' camera held, the athlete's size read in it.

    Size and stature are combined by their uncertainties. The camera stays as the marks gave it.

    Parameters
    ----------
    tracks
        Clean tracks, without the distortion of the lens if that is known; person 0 is the athlete.
    marks
        The camera that marks gave.
    stature_m
        The athlete's stature.
    seed
        Of the random draws.
    lens
        The lens as measured, for this picture.

    Returns
    -------
    Scene
        Grade A; grade C when the athlete was hardly seen, because nothing can be measured then.
    """
    camera = marks.camera
    samples, model_stature_m = calibration_samples(tracks)
    if not math.isfinite(model_stature_m):
        focal = (camera.focal_px, camera.uncertainty("focal_px") / camera.focal_px)
        return feet_not_seen(tracks, marks.principal_px, focal, stature_m, seed, lens)
    mean, covariance = _log_camera(camera)
    generator = np.random.default_rng(seed)
    normal = generator.standard_normal((N_DRAWS, 6))
    normal[0] = 0.0  # draw 0 is the best estimate
    change = normal[:, :4] @ np.linalg.cholesky(covariance + 1e-16 * np.eye(4)).T
    log_scale = math.log(stature_m / model_stature_m)
    scale = log_scale + BODY_SCALE_SPREAD * normal[:, 4]
    notes = [_camera_note(camera)]
    if samples is not None:
        seen, u_feet, slope = _size_seen(samples, mean, covariance, marks.principal_px, stature_m)
        u_seen = math.hypot(u_feet, math.sqrt(slope @ covariance @ slope))
        if math.isfinite(seen):
            share = BODY_SCALE_SPREAD**2 / (u_seen**2 + BODY_SCALE_SPREAD**2)
            from_feet = seen + change @ slope + u_feet * normal[:, 5]
            scale = share * from_feet + (1.0 - share) * scale
            u_both = math.hypot(u_seen, BODY_SCALE_SPREAD)
            if abs(seen - log_scale) > DISAGREES_U * u_both:
                notes.append(_disagreement_note(stature_m, seen - log_scale, u_both))
    draws = mean + change
    return Scene(
        grade="A",
        focal_px=np.exp(draws[:, 0]),
        pitch_deg=draws[:, 1],
        roll_deg=draws[:, 2],
        height_m=np.exp(draws[:, 3]),
        principal_px=marks.principal_px,
        stature_m=np.full(N_DRAWS, stature_m),
        body_scale=np.exp(scale),
        notes=(*notes, *lens_notes(lens)),
        lens=lens,
        goal_m=None if marks.mouth_m is None else goal_draws_m(camera, marks.mouth_m, change, seed),
    )


def _log_camera(camera: MarkedCamera) -> tuple[FloatArray, FloatArray]:
    """Mean (4,) and covariance (4, 4) of log focal length, pitch, roll and log height."""
    values = [getattr(camera, name) for name in CAMERA_PARAMETERS]
    mean = np.array([math.log(values[0]), values[1], values[2], math.log(values[3])])
    to_log = np.diag([1.0 / values[0], 1.0, 1.0, 1.0 / values[3]])
    return mean, to_log @ camera.covariance @ to_log


def _size_seen(
    samples: BodySamples,
    mean: FloatArray,
    covariance: FloatArray,
    principal_px: FloatArray,
    stature_m: float,
) -> tuple[float, float, FloatArray]:
    """Size of the body by its feet: log scale, its u with the camera held, its slope (4,)."""

    def seen(camera: FloatArray) -> tuple[float, float]:
        return fit_body_scale(samples, camera, principal_px=principal_px, stature_m=stature_m)

    steps = 0.3 * np.sqrt(np.diag(covariance)) + 1e-6
    slope = [
        (seen(mean + step)[0] - seen(mean - step)[0]) / (2 * step.sum()) for step in np.diag(steps)
    ]
    return *seen(mean), np.array(slope)


def _camera_note(camera: MarkedCamera) -> str:
    furthest = int(np.argmax(camera.residual_px))
    return message(
        "scene.by_marks",
        n=len(camera.names),
        height=camera.height_m,
        half_width=2 * camera.uncertainty("height_m"),
        mark=camera.names[furthest],
        off=float(camera.residual_px[furthest]),
    )


def _disagreement_note(stature_m: float, log_ratio: float, u_log: float) -> str:
    seen_m = stature_m * math.exp(log_ratio)
    return message(
        "scene.stature_differs", seen=seen_m, half_width=2 * seen_m * u_log, stature=stature_m
    )
