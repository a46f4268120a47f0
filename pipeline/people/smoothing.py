"""Clean tracks: outliers rejected, hidden hands left out, short gaps filled, zero-lag low-pass."""

from __future__ import annotations

import numpy as np

from pipeline.core.spline import (
    gaps_longer_than,
    noise_gain,
    residual_cutoff_hz,
    robust_smooth,
)
from pipeline.core.types import JOINTS, LANDMARKS, BoolArray, FloatArray, SmoothTracks, Tracks
from pipeline.people.leg_swaps import keep_sides
from pipeline.people.occlusion import covered_noise

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
OUTLIER_SCALE = 4.0


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
        (n,) 0 to 1; NaN where not found.

    Returns
    -------
    numpy.ndarray
        (n,) 0.01 to 1.
    """
    reach = max(1, round(TRUST_REACH_S / float(np.median(np.diff(time_s)))))
    known = np.nan_to_num(visibility)
    padded = np.pad(known, reach, mode="edge")
    best = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1).max(axis=-1)
    return np.asarray(np.clip(known / np.maximum(best, 0.3), 0.1, 1.0) ** 2)


def reject_outliers(values: FloatArray, weight: FloatArray, floor: float) -> FloatArray:
    """Set the weight of single wild samples to 0 by their distance to the running median of seven.

    Parameters
    ----------
    values
        (n, d) one joint.
    weight
        (n,).
    floor
        Deviation below which nothing is rejected, same unit as `values`.

    Returns
    -------
    numpy.ndarray
        (n,) weight.
    """
    n = values.shape[0]
    if n < 7:
        return weight
    padded = np.pad(np.where(weight[:, None] > 0, values, np.nan), ((3, 3), (0, 0)), mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 7, axis=0)
    # A moving hand leaves its running median by its speed: compare with the neighbours' spread.
    with np.errstate(invalid="ignore"):
        ordered = np.sort(windows, axis=-1)
        middle = ordered[..., 3]
        reach = ordered[..., 5] - ordered[..., 1]
        # Beside a gap the window is not full (NaN) and nothing is judged: comparisons are false.
        wild = np.any(np.abs(values - middle) > OUTLIER_SCALE * 0.5 * reach + floor, axis=-1)
    wild &= np.isfinite(windows).all(axis=(1, 2))
    return np.where(wild, 0.0, weight)


def smooth_tracks(tracks: Tracks, time_s: FloatArray) -> SmoothTracks:
    """Make clean joint tracks of raw landmark tracks.

    Parameters
    ----------
    tracks
        Raw landmarks.
    time_s
        (n_frames,) frame times.

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
    if n_frames < FEWEST_FRAMES:  # nothing to tell movement from noise by
        image_px[:], body_m[:], n_people = np.nan, np.nan, 0
    sizes_px = np.array([_body_size_px(image_px[person]) for person in range(n_people)])
    for person in range(n_people):
        found = np.isfinite(image_px[person, :, 0, 0])
        size_px = float(sizes_px[person])
        sure = joint_visibility(tracks.visibility[person])
        hidden = hidden_hands(image_px[person], sure, size_px)
        for joint, name in enumerate(JOINTS):
            fast = name.split("_")[-1] in FAST_PARTS
            both = np.concatenate([image_px[person, :, joint], body_m[person, :, joint]], axis=-1)
            seen = found & ~hidden[:, joint]
            trust = relative_trust(time_s, sure[:, joint]) if fast else np.ones(n_frames)
            weight = reject_outliers(both[:, :2], seen * trust, 0.03 * size_px)
            if weight.sum() < FEWEST_FRAMES:
                image_px[person, :, joint], body_m[person, :, joint] = np.nan, np.nan
                continue
            cutoff_hz, raw_noise = residual_cutoff_hz(time_s, both[:, :2], weight)
            cutoff_hz = max(cutoff_hz, FAST_FLOOR_HZ if fast else SLOW_FLOOR_HZ)
            smooth = robust_smooth(time_s, both, weight, cutoff_hz, 0.01 * size_px)
            smooth[gaps_longer_than(time_s, weight > 0, LONGEST_GAP_S)] = np.nan
            image_px[person, :, joint], body_m[person, :, joint] = smooth[:, :2], smooth[:, 2:]
            doubt = UNSEEN_NOISE_OF_STATURE * size_px * (1.0 - sure[:, joint]) ** 2
            noise_px[person, :, joint] = np.hypot(
                raw_noise * noise_gain(time_s, cutoff_hz), np.nan_to_num(doubt)
            )
    if n_people > 1:
        noise_px = np.hypot(noise_px, covered_noise(image_px, sizes_px))
    return SmoothTracks(
        time_s=time_s,
        image_px=image_px,
        body_m=body_m,
        noise_px=noise_px,
        overlapped=tracks.overlapped,
    )


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
