"""The scene where only the body's own size is known (grade C): a camera as hands hold it."""

from __future__ import annotations

import math

import numpy as np

from pipeline.core.types import FloatArray, LensProfile, Scene, SmoothTracks
from pipeline.people.foot_contact import foot_middle
from pipeline.scene.calibration_samples import body_size_px, model_stature

N_DRAWS = 201
"""The best estimate and 200 Monte Carlo draws (JCGM 101:2008)."""

BODY_SCALE_SPREAD = 0.012
"""Relative standard uncertainty of a body's size by its stature. On rendered clips the height of
the ears varied by 0.94 % by the stature and by 0.57 % under a known camera, which leaves 0.75 %;
taken wider, for rendered bodies are more alike than people."""

HELD_HEIGHT_M = (1.2, 0.35)
"""Mean and standard deviation of how high a phone is held or put up: knee to eye height."""

ROLL_SPREAD_DEG = 2.0
PITCH_SPREAD_DEG = 8.0
"""Of a phone that is held about level, where nothing else shows its tilt."""

FEWEST_FRAMES = 8


def body_scale_scene(
    tracks: SmoothTracks,
    *,
    principal_px: FloatArray,
    focal: tuple[float, float],
    stature_m: float,
    seed: int,
    lens: LensProfile | None,
    no_ground: str,
    notes: tuple[str, ...],
) -> Scene:
    """Make a scene of grade C: the scale from the stature, the tilt from where the feet are seen.

    A foot that is seen at some angle below the optical axis, at the distance that the size of the
    body shows, gives the tilt for each height of the phone. Heights above the athlete's own foot
    depend little on either.

    Parameters
    ----------
    tracks
        Clean tracks; person 0 is the athlete.
    principal_px
        (2,) principal point.
    focal
        Focal length in px, and the standard uncertainty of its logarithm.
    stature_m
        The athlete's stature.
    seed
        Of the random draws.
    lens
        The lens as measured, for this picture.
    no_ground
        Why there is no ground, as half a sentence.
    notes
        Sentences for the report.

    Returns
    -------
    Scene
        Without any scale when the athlete was hardly seen.
    """
    image_px, body_m = tracks.image_px[0], tracks.body_m[0]
    size_px = body_size_px(image_px, body_m, tracks.model)
    seen = np.isfinite(size_px)
    normal = np.random.default_rng(seed).standard_normal((N_DRAWS, 5))
    normal[0] = 0.0  # draw 0 is the best estimate
    focal_px = focal[0] * np.exp(focal[1] * normal[:, 0])
    height_m = np.maximum(HELD_HEIGHT_M[0] + HELD_HEIGHT_M[1] * normal[:, 1], 0.2)
    scale = np.full(N_DRAWS, np.nan)
    pitch_deg = PITCH_SPREAD_DEG * normal[:, 3]
    if seen.sum() >= FEWEST_FRAMES:
        model_stature_m = model_stature(body_m[seen], tracks.model)
        scale = np.exp(math.log(stature_m / model_stature_m) + BODY_SCALE_SPREAD * normal[:, 4])
        feet_px = foot_middle(image_px)[..., 1].mean(axis=-1)
        standing = seen & np.isfinite(feet_px)
        if standing.sum() >= FEWEST_FRAMES:
            # (n_draws, n_frames): below the optical axis as seen, and below level as it has to be.
            below = np.arctan((feet_px[standing] - principal_px[1]) / focal_px[:, None])
            near = size_px[standing] / (focal_px[:, None] * stature_m)
            tilt_deg = np.degrees(np.arctan(height_m[:, None] * near) - below)
            pitch_deg = np.median(tilt_deg, axis=1) + tilt_deg[0].std() * normal[:, 3]
    return Scene(
        grade="C",
        focal_px=focal_px,
        pitch_deg=pitch_deg,
        roll_deg=ROLL_SPREAD_DEG * normal[:, 2],
        height_m=height_m,
        principal_px=principal_px,
        stature_m=np.full(N_DRAWS, stature_m),
        body_scale=scale,
        notes=notes,
        no_ground=no_ground,
        lens=lens,
    )
