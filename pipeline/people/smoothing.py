"""Clean tracks: outliers and hidden joints weighted, short gaps filled, zero-lag low-pass."""

from __future__ import annotations

import numpy as np

from models import UNNAMED_MODEL
from pipeline.core.spline import (
    gaps_longer_than,
    noise_gain,
    residual_cutoff_hz,
    robust_smooth,
)
from pipeline.core.types import (
    JOINTS,
    LANDMARKS,
    BoolArray,
    FloatArray,
    IndexArray,
    SmoothTracks,
    Tracks,
)
from pipeline.people.leg_swaps import keep_sides
from pipeline.people.scout import noise_between_looks

COVERED_OF_STATURE = 0.06
"""A joint this near to another body's limb or trunk is behind it or in front of it."""

CLEAR_OF_STATURE = 0.25
"""From here on another body makes no difference. Both by the errors on rendered clips."""

_SIDES = ("left", "right")
LINES = (
    *(
        (f"{side}_{a}", f"{side}_{b}")
        for side in _SIDES
        for a, b in (
            ("shoulder", "elbow"), ("elbow", "wrist"), ("shoulder", "hip"), ("hip", "knee"),
            ("knee", "ankle"), ("heel", "toe"),
        )
    ),
    ("left_shoulder", "right_shoulder"),
    ("left_hip", "right_hip"),
    ("left_shoulder", "right_hip"),
    ("right_shoulder", "left_hip"),
)  # fmt: skip
"""Limbs and trunk as lines between joints."""

_FEET = ("ankle", "heel", "toe")
_ARMS = ("elbow", "wrist", "hand")


def _by_part(feet: float, arms: float, rest: float) -> FloatArray:
    parts = [name.split("_")[-1] for name in JOINTS]
    return np.array([feet if p in _FEET else arms if p in _ARMS else rest for p in parts])


NOISE_BEHIND = _by_part(0.085, 0.065, 0.035)
NOISE_IN_FRONT = _by_part(0.045, 0.035, 0.028)
"""(23,) standard deviation of a joint there, shares of stature: of one behind the other body, which
is guessed, and of one in front of it, for the two are mixed up."""


def covered_noise(image_px: FloatArray, size_px: FloatArray) -> FloatArray:
    """Tell what other bodies in the way add to the noise of each joint.

    Parameters
    ----------
    image_px
        (n_people, n_frames, 23, 2) clean joints; NaN where unknown.
    size_px
        (n_people,) height of each in the picture.

    Returns
    -------
    numpy.ndarray
        (n_people, n_frames, 23) px; 0 where nobody is near.
    """
    n_people = image_px.shape[0]
    noise_px = np.zeros(image_px.shape[:3])
    lowest = [_lowest_px(image_px[person]) for person in range(n_people)]
    for person in range(n_people):
        for other in range(n_people):
            if other == person or not size_px[other] > 0.0:
                continue
            near = _near(image_px[person], image_px[other], float(size_px[other]))
            if not near.any():
                continue
            distance = _distance_px(image_px[person, near], image_px[other, near])
            part = distance / size_px[other]
            share = np.clip(
                (CLEAR_OF_STATURE - part) / (CLEAR_OF_STATURE - COVERED_OF_STATURE), 0.0, 1.0
            )
            # Who stands lower in the picture stands nearer to the camera.
            with np.errstate(invalid="ignore"):
                behind = (lowest[person][near] < lowest[other][near])[:, None]
            spread = np.where(behind, NOISE_BEHIND, NOISE_IN_FRONT) * size_px[person]
            noise_px[person, near] = np.maximum(noise_px[person, near], spread * share)
    return noise_px


def _lowest_px(image_px: FloatArray) -> FloatArray:
    """(n_frames,) y of the lowest foot point; NaN where unknown."""
    feet = [i for i, name in enumerate(JOINTS) if name.split("_")[-1] in _FEET]
    lowest = np.max(np.nan_to_num(image_px[:, feet, 1], nan=-np.inf), axis=1)
    return np.where(np.isfinite(lowest), lowest, np.nan)


def _near(image_px: FloatArray, other_px: FloatArray, size_px: float) -> BoolArray:
    """(n_frames,) whether the boxes of two bodies come within reach of one another."""
    reach = CLEAR_OF_STATURE * size_px
    with np.errstate(invalid="ignore"):
        low = np.fmax.reduce([np.fmin.reduce(p, axis=1) for p in (image_px, other_px)])
        high = np.fmin.reduce([np.fmax.reduce(p, axis=1) for p in (image_px, other_px)])
        return np.asarray((low - high < reach).all(axis=-1))


def _distance_px(points_px: FloatArray, other_px: FloatArray) -> FloatArray:
    """(n_frames, 23) distance of each joint to the nearest line of the other body."""
    # x and y by themselves: sums over two numbers at a time are slow.
    (x, y), (other_x, other_y) = (
        np.ascontiguousarray(np.moveaxis(each, -1, 0)) for each in (points_px, other_px)
    )
    nearest = np.full(x.shape, np.inf)  # squared
    for first, second in LINES:
        a, b = [JOINTS.index(first)], [JOINTS.index(second)]
        line_x, line_y = other_x[:, b] - other_x[:, a], other_y[:, b] - other_y[:, a]
        from_x, from_y = x - other_x[:, a], y - other_y[:, a]
        squared = np.maximum(line_x**2 + line_y**2, 1e-9)
        along = np.clip((from_x * line_x + from_y * line_y) / squared, 0.0, 1.0)
        apart = (from_x - along * line_x) ** 2 + (from_y - along * line_y) ** 2
        nearest = np.fmin(nearest, apart)
    return np.asarray(np.sqrt(nearest))


GRIP_FROM_WRIST = 1.5
"""Centre of the grip on the shaft, in ways from the wrist to the model's knuckle points.

The model draws the knuckles of a fist too near to the wrist. The grip lies 0.046 of stature past
the wrist (ANSUR II, Gordon et al. 2014: elbow to grip centre less elbow to wrist); the factor
was chosen so that the model's hands lie there on rendered bodies.
"""

TOGETHER_OF_STATURE = 0.09
"""Two hands nearer than this in the picture are in one place."""

NEAR_OF_STATURE = 0.14
"""Two hands nearer than this are in one place if one of them is only guessed."""

UNSURE, GUESSED = 0.6, 0.35
"""Visibilities under which a joint may be, and most likely is, only guessed."""

UNLIKE_VISIBILITY = 0.2
"""A hidden hand's visibility is this much lower than the other's."""

UNSEEN_NOISE_OF_STATURE = 0.08
"""Standard deviation of a joint that the model only guesses, as a share of stature."""

TRUST_REACH_S = 0.4
"""A sample's visibility is compared with the best within this time."""

LONGEST_GAP_S = 0.25
"""Longer gaps stay unknown."""

FEWEST_FRAMES = 4
SLOW_FLOOR_HZ = 4.0
FAST_FLOOR_HZ = 10.0
FAST_PARTS = ("elbow", "wrist", "hand")
_FAST = np.array([name.split("_")[-1] in FAST_PARTS for name in JOINTS])
OUTLIER_SCALE = 4.0

ROWS_AT_ONCE = 20_000
"""Samples that are smoothed together: in a short clip all joints, in a long one one by one, which
keeps memory small."""


def joints_from_landmarks(landmarks: FloatArray) -> FloatArray:
    """Pick the measured joints from the model's points; hands are put at the grip.

    Parameters
    ----------
    landmarks
        ``S + (33, d)``.

    Returns
    -------
    numpy.ndarray
        ``S + (23, d)`` in the order of `JOINTS`.
    """
    columns: list[FloatArray] = []
    for name in JOINTS:
        if name.endswith("_hand"):
            side = name.split("_")[0]
            wrist = landmarks[..., LANDMARKS.index(f"{side}_wrist"), :]
            knuckles = 0.5 * (
                landmarks[..., LANDMARKS.index(f"{side}_index_finger"), :]
                + landmarks[..., LANDMARKS.index(f"{side}_little_finger"), :]
            )
            columns.append(wrist + GRIP_FROM_WRIST * (knuckles - wrist))
        else:
            columns.append(landmarks[..., LANDMARKS.index(name), :])
    return np.stack(columns, axis=-2)


def relative_trust(time_s: FloatArray, visibility: FloatArray) -> FloatArray:
    """Weight of each sample of a joint by its visibility against the best about it.

    A hand that is half hidden all the time is followed as it comes; where it is hidden for a
    moment, the frames before and after decide.

    Parameters
    ----------
    time_s
        (n,).
    visibility
        ``S + (n,)`` 0 to 1; NaN where not found.

    Returns
    -------
    numpy.ndarray
        ``S + (n,)`` 0.01 to 1.
    """
    reach = max(1, round(TRUST_REACH_S / float(np.median(np.diff(time_s)))))
    known = np.nan_to_num(visibility)
    ends = [(0, 0)] * (known.ndim - 1)
    best = _running_greatest(np.pad(known, [*ends, (reach, reach)], mode="edge"), 2 * reach + 1)
    return np.asarray(np.clip(known / np.maximum(best, 0.3), 0.1, 1.0) ** 2)


def _running_greatest(values: FloatArray, width: int) -> FloatArray:
    """``S + (n - width + 1,)`` greatest of each `width` neighbours, by windows that double."""
    greatest, reached = values, 1
    while reached < width:
        step = min(reached, width - reached)
        greatest = np.maximum(greatest[..., :-step], greatest[..., step:])
        reached += step
    return greatest


_SORTED_BY = (
    (0, 6), (2, 3), (4, 5), (0, 2), (1, 4), (3, 6), (0, 1), (2, 5), (3, 4), (1, 2), (4, 6),
    (2, 3), (4, 5), (1, 2), (3, 4), (5, 6),
)  # fmt: skip
"""Exchanges that sort any seven numbers (a sorting network of least size, Knuth 1998)."""


def reject_outliers(values: FloatArray, weight: FloatArray, floor: float) -> FloatArray:
    """Set the weight of single wild samples to 0 by their distance to the running median of seven.

    Parameters
    ----------
    values
        ``S + (n, d)`` joints.
    weight
        ``S + (n,)``.
    floor
        Deviation below which nothing is rejected, same unit as `values`.

    Returns
    -------
    numpy.ndarray
        ``S + (n,)`` weight.
    """
    n = values.shape[-2]
    if n < 7:
        return weight
    ends = [(0, 0)] * (weight.ndim - 1)
    padded = np.pad(
        np.where(weight[..., None] > 0, values, np.nan), [*ends, (3, 3), (0, 0)], mode="edge"
    )
    # Next to a gap the window is not full (NaN), so comparisons are false and nothing is rejected.
    seven = [padded[..., i : i + n, :] for i in range(7)]
    for i, j in _SORTED_BY:
        seven[i], seven[j] = np.minimum(seven[i], seven[j]), np.maximum(seven[i], seven[j])
    # A moving hand leaves its running median by its speed: compare with the neighbours' spread.
    reach = OUTLIER_SCALE * 0.5 * (seven[5] - seven[1]) + floor
    wild = (np.abs(values - seven[3]) > reach).any(axis=-1) & np.isfinite(seven[0]).all(axis=-1)
    return np.where(wild, 0.0, weight)


def smooth_tracks(
    tracks: Tracks, time_s: FloatArray, *, model: str = UNNAMED_MODEL
) -> SmoothTracks:
    """Make clean joint tracks of raw landmark tracks.

    Parameters
    ----------
    tracks
        Raw landmarks.
    time_s
        (n_frames,) frame times.
    model
        Pose model that found them.

    Returns
    -------
    SmoothTracks
        Joints in px and in model-size metres relative to mid-hip, with the noise that is left.
    """
    tracks = keep_sides(tracks, time_s)
    image_px = joints_from_landmarks(tracks.image_px).astype(float)
    body_m = joints_from_landmarks(tracks.world_m).astype(float)
    n_people, n_frames, n_joints = image_px.shape[:3]
    noise_px = np.full((n_people, n_frames, n_joints), np.nan)
    if n_frames < FEWEST_FRAMES:  # too few to separate movement from noise
        image_px[:], body_m[:], n_people = np.nan, np.nan, 0
    sizes_px = np.array([_body_size_px(image_px[person]) for person in range(n_people)])
    parts = np.array_split(np.arange(n_joints), -(-n_joints * n_frames // ROWS_AT_ONCE))
    for person in range(n_people):
        found = np.isfinite(image_px[person, :, 0, 0])
        size_px = float(sizes_px[person])
        sure = joint_visibility(tracks.visibility[person])
        hidden = hidden_hands(image_px[person], sure, size_px)
        for joints in parts:
            both = np.concatenate([image_px[person, :, joints], body_m[person, :, joints]], axis=-1)
            seen = (found[:, None] & ~hidden[:, joints]).T
            smooth, noise = _smooth_joints(time_s, both, seen, sure[:, joints].T, joints, size_px)
            image_px[person, :, joints], body_m[person, :, joints] = (
                smooth[..., :2],
                smooth[..., 2:],
            )
            noise_px[person, :, joints] = noise
    if tracks.computed is not None:
        gain, unseen = noise_between_looks(time_s, tracks.computed)
        for person in range(n_people):
            noise_px[person] = np.hypot(
                gain[:, None] * noise_px[person], sizes_px[person] * unseen[:, None]
            )
    if n_people > 1:
        noise_px = np.hypot(noise_px, covered_noise(image_px, sizes_px))
    return SmoothTracks(
        time_s=time_s,
        image_px=image_px,
        body_m=body_m,
        noise_px=noise_px,
        overlapped=tracks.overlapped,
        model=model,
    )


def _smooth_joints(
    time_s: FloatArray,
    both: FloatArray,
    seen: BoolArray,
    sure: FloatArray,
    joints: IndexArray,
    size_px: float,
) -> tuple[FloatArray, FloatArray]:
    """Smooth some joints of a person.

    Parameters
    ----------
    time_s
        (n,).
    both
        (n_joints, n, 5) picture and metric body.
    seen, sure
        (n_joints, n) whether a sample is used, and its visibility.
    joints
        (n_joints,) of `JOINTS`.
    size_px
        Height of the person in the picture.

    Returns
    -------
    tuple of numpy.ndarray
        (n_joints, n, 5) the same, smooth, and (n_joints, n) the noise that is left, px; NaN for a
        joint that is hardly seen.
    """
    # Column after column: arithmetic on every fifth number of an array takes twice the time.
    both = np.moveaxis(np.ascontiguousarray(np.moveaxis(both, -1, 0)), 0, -1)
    fast = _FAST[joints]
    trust = np.ones(seen.shape)
    trust[fast] = relative_trust(time_s, sure[fast])
    weight = reject_outliers(both[..., :2], seen * trust, 0.03 * size_px)
    smooth, noise = np.full(both.shape, np.nan), np.full(seen.shape, np.nan)
    used = np.flatnonzero(weight.sum(axis=-1) >= FEWEST_FRAMES)
    if used.size == 0:
        return smooth, noise
    both, weight = both[used], weight[used]
    cutoff_hz, raw_noise = residual_cutoff_hz(time_s, both[..., :2], weight)
    cutoff_hz = np.maximum(cutoff_hz, np.where(fast[used], FAST_FLOOR_HZ, SLOW_FLOOR_HZ))
    curves = robust_smooth(time_s, both, weight, cutoff_hz, 0.01 * size_px)
    for curve, samples in zip(curves, weight, strict=True):
        curve[gaps_longer_than(time_s, samples > 0, LONGEST_GAP_S)] = np.nan
    doubt = UNSEEN_NOISE_OF_STATURE * size_px * (1.0 - sure[used]) ** 2
    left_over = raw_noise * noise_gain(time_s, cutoff_hz)
    smooth[used], noise[used] = curves, np.hypot(left_over[:, None], np.nan_to_num(doubt))
    return smooth, noise


def joint_visibility(visibility: FloatArray) -> FloatArray:
    """Take the model's visibility of each joint; a hand's is that of its wrist.

    Parameters
    ----------
    visibility
        (n_frames, 33).

    Returns
    -------
    numpy.ndarray
        (n_frames, 23), 0 to 1; NaN where not found.
    """
    rows = [LANDMARKS.index(name.replace("_hand", "_wrist")) for name in JOINTS]
    return np.asarray(visibility[:, rows], dtype=float)


def hidden_hands(image_px: FloatArray, visibility: FloatArray, size_px: float) -> BoolArray:
    """Tell where a hand that the body hides was put on the other hand instead.

    Both hands hold the shaft some way apart. The pose model puts a hand that it cannot see on the
    one that it can: two hands in one place, one of them with a much lower visibility.

    Parameters
    ----------
    image_px
        (n_frames, 23, 2) joints.
    visibility
        (n_frames, 23).
    size_px
        Height of the person in the picture.

    Returns
    -------
    numpy.ndarray
        (n_frames, 23) true at hands and wrists that are not to be used.
    """
    hidden = np.zeros(visibility.shape, dtype=bool)
    left, right = JOINTS.index("left_hand"), JOINTS.index("right_hand")
    apart_px = np.linalg.norm(image_px[:, left] - image_px[:, right], axis=-1)
    with np.errstate(invalid="ignore"):
        for side, own, other in (("left", left, right), ("right", right, left)):
            unlike = visibility[:, own] < visibility[:, other] - UNLIKE_VISIBILITY
            unsure = (visibility[:, own] < UNSURE) & (apart_px < TOGETHER_OF_STATURE * size_px)
            guessed = (visibility[:, own] < GUESSED) & (apart_px < NEAR_OF_STATURE * size_px)
            hidden[:, own] = unlike & (unsure | guessed)
            hidden[:, JOINTS.index(f"{side}_wrist")] = hidden[:, own]
    return hidden


def _body_size_px(image_px: FloatArray) -> float:
    """Median height of the person in the picture, px; 0 when never found."""
    height = np.nanmax(image_px[..., 1], axis=-1, initial=-np.inf) - np.nanmin(
        image_px[..., 1], axis=-1, initial=np.inf
    )
    height = height[np.isfinite(height)]
    return float(np.median(height)) if height.size else 0.0
