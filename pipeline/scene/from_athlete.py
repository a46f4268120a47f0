"""How pixels become metres: the camera over flat ground, its grade, and draws of what it may be."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from calibration.known_athlete import CameraEstimate, draw_cameras, fit_known_athlete
from pipeline.core.messages import message
from pipeline.core.types import FloatArray, LensProfile, Scene, SmoothTracks
from pipeline.film.camera_motion import STILL, Stillness
from pipeline.scene.calibration_samples import calibration_samples
from pipeline.scene.from_body import BODY_SCALE_SPREAD, N_DRAWS, body_scale_scene

TYPICAL_VIEW_DEG = 65.0
TYPICAL_FOCAL_SPREAD = 0.09
"""Standard deviation of the logarithm of the focal length about that of `TYPICAL_VIEW_DEG`, over
the main cameras of phones: 24 to 28 mm on 36 mm film, from memory. Stabilisation crops up to a
tenth, so the field of view is 58 to 74 degrees. Wide and zoom lenses lie outside."""
GIVEN_FOCAL_SPREAD = 0.02

REFOCUS_SPREAD = 0.006
"""How far a phone's focal length goes with its focus, from a board near by to a player far off.

A lens of 6 mm (typical of phones; from memory) that focuses at a distance d moves out by 6 mm / d
of its focal length (thin lens): 1.2 % at 0.5 m, 0.6 % at 1 m, 0.1 % at the player. Taken as a
rectangular distribution of +- 1 %.
"""


def find_scene(
    tracks: SmoothTracks,
    *,
    size_px: tuple[int, int],
    stature_m: float,
    fov_deg: float | None,
    seed: int,
    lens: LensProfile | None = None,
    camera: Stillness = STILL,
) -> Scene:
    """Estimate the camera over the ground from the athlete's own body (grade B), or step down to C.

    Parameters
    ----------
    tracks
        Clean tracks, without the distortion of the lens if that is known; person 0 is the athlete.
    size_px
        Width and height of the upright picture.
    stature_m
        The athlete's stature.
    fov_deg
        Field of view along the long side, if known.
    seed
        Of the random draws.
    lens
        The lens as measured, for this picture; it comes before `fov_deg`.
    camera
        Whether the camera stood still; without that there is no one ground to find.

    Returns
    -------
    Scene
    """
    principal_px, focal_px, spread = optics(size_px, fov_deg, lens)
    samples, model_stature_m = calibration_samples(tracks)
    if camera.state == "moved":
        return body_scale_scene(
            tracks,
            principal_px=principal_px,
            focal=(focal_px, spread),
            stature_m=stature_m,
            seed=seed,
            lens=lens,
            no_ground=camera.words,
            notes=(
                message("scene.moved", camera=camera.words),
                message("scene.without_ground"),
                *lens_notes(lens),
            ),
        )
    if samples is None:
        return feet_not_seen(tracks, principal_px, (focal_px, spread), stature_m, seed, lens)
    log_scale = float(np.log(stature_m / model_stature_m))
    estimate = fit_known_athlete(
        samples,
        principal_px=principal_px,
        stature_m=stature_m,
        log_focal=(math.log(focal_px), spread),
        log_body_scale=(log_scale, BODY_SCALE_SPREAD),
    )
    draws = draw_cameras(
        estimate,
        samples,
        principal_px=principal_px,
        n_draws=N_DRAWS,
        generator=np.random.default_rng(seed),
    )
    return with_doubts(_scene_from(estimate, draws, principal_px, stature_m, lens), camera)


def with_doubts(scene: Scene, camera: Stillness) -> Scene:
    """Add what a camera that moved, or may have moved, does to the scene."""
    if camera.state == "steadied":
        note = message("scene.steadied", camera=camera.words)
        return replace(scene, unsteady_px=camera.unsteady_px, notes=(*scene.notes, note))
    if camera.state != "not told":
        return scene
    note = message("scene.not_told", camera=camera.words)
    return replace(scene, notes=(*scene.notes, note))


def optics(
    size_px: tuple[int, int], fov_deg: float | None, lens: LensProfile | None
) -> tuple[FloatArray, float, float]:
    """Principal point, focal length in px, and the standard uncertainty of its logarithm."""
    if lens is not None:
        spread = math.hypot(lens.u_log_focal, REFOCUS_SPREAD)
        return np.array(lens.principal_px), lens.straight_focal_px, spread
    view_deg = TYPICAL_VIEW_DEG if fov_deg is None else fov_deg
    focal_px = 0.5 * max(size_px) / math.tan(math.radians(view_deg) / 2)
    spread = TYPICAL_FOCAL_SPREAD if fov_deg is None else GIVEN_FOCAL_SPREAD
    return 0.5 * np.array(size_px, dtype=float), focal_px, spread


def _scene_from(
    estimate: CameraEstimate,
    draws: FloatArray,
    principal_px: FloatArray,
    stature_m: float,
    lens: LensProfile | None,
) -> Scene:
    """Make the scene of an estimate and of draws (n_draws, 5) about it."""
    height_m = np.exp(estimate.mean[3])
    return Scene(
        grade="B",
        focal_px=np.exp(draws[:, 0]),
        pitch_deg=draws[:, 1],
        roll_deg=draws[:, 2],
        height_m=np.exp(draws[:, 3]),
        principal_px=principal_px,
        stature_m=np.full(N_DRAWS, stature_m),
        body_scale=np.exp(draws[:, 4]),
        notes=(
            message(
                "scene.by_athlete",
                height=float(height_m),
                half_width=float(2 * height_m * np.sqrt(estimate.covariance[3, 3])),
            ),
            *lens_notes(lens),
        ),
        lens=lens,
    )


def lens_notes(lens: LensProfile | None) -> tuple[str, ...]:
    """Say which lens profile the focal length and the straight lines come from."""
    if lens is None:
        return ()
    return (
        message(
            "scene.lens",
            name=lens.name,
            day=lens.made_on.isoformat(),
            focal=lens.straight_focal_px,
            half_width=2 * lens.straight_focal_px * math.hypot(lens.u_log_focal, REFOCUS_SPREAD),
        ),
    )


def feet_not_seen(
    tracks: SmoothTracks,
    principal_px: FloatArray,
    focal: tuple[float, float],
    stature_m: float,
    seed: int,
    lens: LensProfile | None,
) -> Scene:
    """Grade C, because the athlete's feet were hardly seen; `focal` with its uncertainty."""
    return body_scale_scene(
        tracks,
        principal_px=principal_px,
        focal=focal,
        stature_m=stature_m,
        seed=seed,
        lens=lens,
        no_ground=message("reasons.no_ground_below"),
        notes=(
            message("scene.feet_not_seen"),
            message("scene.without_ground"),
            *lens_notes(lens),
        ),
    )
