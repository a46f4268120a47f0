"""How pixels become metres: the camera over flat ground, its grade, and draws of what it may be."""

from __future__ import annotations

import math

import numpy as np

from calibration.balance import above_feet_m
from calibration.known_athlete import BodySamples, CameraEstimate, fit_known_athlete
from calibration.lens_profile import LensProfile
from pipeline.feet import foot_middle, standing_feet
from pipeline.types import JOINTS, FloatArray, Scene, SmoothTracks

N_DRAWS = 201
"""The best estimate and 200 Monte Carlo draws (JCGM 101:2008)."""

TYPICAL_VIEW_DEG = 65.0
TYPICAL_FOCAL_SPREAD = 0.07
GIVEN_FOCAL_SPREAD = 0.02

REFOCUS_SPREAD = 0.006
"""How far a phone's focal length goes with its focus, from a board near by to a player far off.

A lens of 6 mm (typical of phones; from memory) that focuses at a distance d moves out by 6 mm / d
of its focal length (thin lens): 1.2 % at 0.5 m, 0.6 % at 1 m, 0.1 % at the player. Taken as a
rectangular distribution of +- 1 %.
"""

SIZE_JOINTS = tuple(
    JOINTS.index(f"{side}_{part}")
    for part in ("shoulder", "hip", "knee", "ankle", "ear")
    for side in ("left", "right")
)
"""Joints that carry the size of the body; the quick ones are left out."""

BODY_JOINTS = (
    *SIZE_JOINTS,
    *(JOINTS.index(f"{side}_{part}") for part in ("heel", "toe") for side in ("left", "right")),
)
"""Joints without which a frame is of no use to the geometry."""

BODY_SCALE_SPREAD = 0.016
MOST_SAMPLES = 150
FEWEST_SAMPLES = 8

MODEL_CHAIN_OF_STATURE = 0.7305
"""Shank, thigh and trunk of the pose model's metric body, as a share of stature.

The mean over the rendered sample and training clips; it varies by 1.5 % from clip to clip.
"""


def find_scene(
    tracks: SmoothTracks,
    *,
    size_px: tuple[int, int],
    stature_m: float,
    fov_deg: float | None,
    seed: int,
    lens: LensProfile | None = None,
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

    Returns
    -------
    Scene
    """
    principal_px, focal_px, spread = optics(size_px, fov_deg, lens)
    samples, model_stature_m = calibration_samples(tracks)
    if samples is None:
        return scale_unknown(principal_px, focal_px, stature_m, lens)
    log_scale = float(np.log(stature_m / model_stature_m))
    estimate = fit_known_athlete(
        samples,
        principal_px=principal_px,
        stature_m=stature_m,
        log_focal=(math.log(focal_px), spread),
        log_body_scale=(log_scale, BODY_SCALE_SPREAD),
    )
    return _scene_from(estimate, principal_px, stature_m, seed, lens)


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


def calibration_samples(tracks: SmoothTracks) -> tuple[BodySamples | None, float]:
    """Choose frames of the athlete for calibration, and read his stature in model-size metres.

    Parameters
    ----------
    tracks
        Clean tracks; person 0 is the athlete.

    Returns
    -------
    tuple
        Samples (None when there are too few frames) and the model-size stature in m.
    """
    image_px, body_m = tracks.image_px[0], tracks.body_m[0]
    usable = np.isfinite(image_px[:, BODY_JOINTS]).all(axis=(1, 2)) & ~tracks.overlapped[0]
    if usable.sum() < FEWEST_SAMPLES:
        return None, float("nan")
    model_stature_m = model_stature(body_m[usable])
    standing = standing_feet(image_px, tracks.time_s, body_size_px(image_px, body_m))
    usable &= standing.any(axis=1)
    index = np.flatnonzero(usable)
    if index.size < FEWEST_SAMPLES:
        return None, model_stature_m
    index = index[np.unique(np.linspace(0, index.size - 1, MOST_SAMPLES).astype(int))]
    return (
        BodySamples(
            image_px=image_px[index][:, SIZE_JOINTS],
            body_m=body_m[index][:, SIZE_JOINTS],
            foot_px=foot_middle(image_px)[index],
            foot_m=foot_middle(body_m)[index],
            standing=standing[index],
            up_m=above_feet_m(body_m[index]),
            time_s=tracks.time_s[index],
        ),
        model_stature_m,
    )


def model_stature(body_m: FloatArray) -> float:
    """Stature of the pose model's metric body from its shank, thigh and trunk.

    Parameters
    ----------
    body_m
        (n_frames, 23, 3).

    Returns
    -------
    float
        Median over the frames, m.
    """
    return float(np.median(chain_m(body_m)) / MODEL_CHAIN_OF_STATURE)


def chain_m(body_m: FloatArray) -> FloatArray:
    """(n_frames,) length of shank, thigh (mean of both legs) and trunk of the metric body."""

    def length(a: str, b: str) -> FloatArray:
        return np.asarray(
            np.linalg.norm(body_m[:, JOINTS.index(a)] - body_m[:, JOINTS.index(b)], axis=-1)
        )

    legs = sum(
        length(f"{side}_{a}", f"{side}_{b}")
        for side in ("left", "right")
        for a, b in (("hip", "knee"), ("knee", "ankle"))
    )
    joint = JOINTS.index
    hips = 0.5 * (body_m[:, joint("left_hip")] + body_m[:, joint("right_hip")])
    shoulders = 0.5 * (body_m[:, joint("left_shoulder")] + body_m[:, joint("right_shoulder")])
    return np.asarray(0.5 * legs + np.linalg.norm(shoulders - hips, axis=-1))


def body_size_px(image_px: FloatArray, body_m: FloatArray) -> FloatArray:
    """Give what the person's stature would measure in the picture, frame by frame.

    The scale is the ratio of the spread of the joints in the picture to that of the metric body
    seen along the viewing ray (weak perspective).

    Parameters
    ----------
    image_px
        (n_frames, 23, 2).
    body_m
        (n_frames, 23, 3).

    Returns
    -------
    numpy.ndarray
        (n_frames,) px; NaN where unknown.
    """
    picture = image_px[:, SIZE_JOINTS]
    body = body_m[:, SIZE_JOINTS, :2]
    spread_px = (picture - picture.mean(axis=1, keepdims=True)).std(axis=(1, 2))
    spread_m = (body - body.mean(axis=1, keepdims=True)).std(axis=(1, 2))
    chain = chain_m(body_m)
    if not np.isfinite(chain).any():
        return np.full(chain.shape, np.nan)
    model_stature_m = np.nanmedian(chain) / MODEL_CHAIN_OF_STATURE
    return np.asarray(spread_px / spread_m * model_stature_m)


def _scene_from(
    estimate: CameraEstimate,
    principal_px: FloatArray,
    stature_m: float,
    seed: int,
    lens: LensProfile | None,
) -> Scene:
    """Draw cameras from the estimate; draw 0 is the estimate itself."""
    generator = np.random.default_rng(seed)
    root = np.linalg.cholesky(estimate.covariance + 1e-12 * np.eye(5))
    draws = estimate.mean + generator.standard_normal((N_DRAWS, 5)) @ root.T
    draws[0] = estimate.mean
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
            "Scale from the athlete's stature, the feet on flat ground and a camera that stands "
            f"still (grade B): camera height {np.exp(estimate.mean[3]):.2f} m, give or take "
            f"{np.exp(estimate.mean[3]) * np.sqrt(estimate.covariance[3, 3]):.2f} m.",
            *lens_notes(lens),
        ),
        lens=lens,
    )


def lens_notes(lens: LensProfile | None) -> tuple[str, ...]:
    """Say which lens profile the focal length and the straight lines come from."""
    if lens is None:
        return ()
    return (
        f"Lens from the profile '{lens.name}' of {lens.made_on.isoformat()}: focal length "
        f"{lens.straight_focal_px:.0f} px, give or take "
        f"{2 * lens.straight_focal_px * math.hypot(lens.u_log_focal, REFOCUS_SPREAD):.0f} px.",
    )


def scale_unknown(
    principal_px: FloatArray, focal_px: float, stature_m: float, lens: LensProfile | None
) -> Scene:
    """Grade C: only the body's own scale is known."""
    unknown = np.full(N_DRAWS, np.nan)
    return Scene(
        grade="C",
        focal_px=np.full(N_DRAWS, focal_px),
        pitch_deg=unknown,
        roll_deg=unknown,
        height_m=unknown,
        principal_px=principal_px,
        stature_m=np.full(N_DRAWS, stature_m),
        body_scale=unknown,
        notes=(
            "The athlete's feet were not seen standing often enough to find the ground (grade C).",
            *lens_notes(lens),
        ),
        lens=lens,
    )
