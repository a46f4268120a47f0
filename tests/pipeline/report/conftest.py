"""An invented analysis: no film, no person, numbers made up so that every verdict occurs."""

from pathlib import Path

import cv2
import numpy as np
import pytest

from pipeline.core.results import Analysis, Measurement, RepResult
from pipeline.core.types import JOINTS, Clip, Event, Rep, Scene, SmoothTracks
from pipeline.feedback.clip_feedback import clip_feedback
from pipeline.measures import MEASURES, measures_of
from pipeline.targets.load import load_targets
from pipeline.targets.verdicts import judge_rep

# Joints of a standing figure of height 1, feet at (0, 0), y down.
FIGURE = {
    "nose": (0.03, -0.90), "left_eye": (0.04, -0.92), "right_eye": (0.01, -0.92),
    "left_ear": (0.03, -0.91), "right_ear": (-0.03, -0.91),
    "left_shoulder": (0.11, -0.80), "right_shoulder": (-0.11, -0.80),
    "left_elbow": (0.21, -0.68), "right_elbow": (-0.17, -0.90),
    "left_wrist": (0.10, -0.70), "right_wrist": (-0.02, -1.00),
    "left_hand": (0.08, -0.72), "right_hand": (0.01, -1.02),
    "left_hip": (0.06, -0.52), "right_hip": (-0.06, -0.52),
    "left_knee": (0.09, -0.28), "right_knee": (-0.08, -0.28),
    "left_ankle": (0.12, -0.04), "right_ankle": (-0.12, -0.04),
    "left_heel": (0.10, 0.0), "right_heel": (-0.14, 0.0),
    "left_toe": (0.18, 0.0), "right_toe": (-0.06, 0.0),
}  # fmt: skip

VALUES = {
    "hand_height_before_release_m": [(1.83, 0.02), (1.70, 0.02), None, (1.55, 0.03)],
    "hands_high_hold_s": [(0.22, 0.02), (0.05, 0.01), (0.30, 0.02), (0.25, 0.03)],
    "hand_drop_m": [(0.31, 0.03), (0.62, 0.03), (0.58, 0.04), (0.60, 0.03)],
    "fake_to_release_s": [(0.41, 0.02), (0.33, 0.02), (0.78, 0.02), (0.44, 0.02)],
    "head_pitch_at_fake_deg": [(4.0, 3.0), (12.0, 3.0), (-11.0, 3.0), None],
    "release_height_m": [(1.52, 0.02), (1.08, 0.02), None, (0.95, 0.03)],
    "step_back_m": [(0.71, 0.03), (0.38, 0.04), (0.2, 0.03), None],
    "steps_back": [(1.0, 0.1), (1.0, 0.1), (2.0, 0.2), (1.0, 0.1)],
    "turn_away_deg": [(50, 4), (60, 4), (110, 6), (70, 4)],
    "cushion_m": [(1.05, 0.05), (0.7, 0.05), None, (1.2, 0.1)],
    "cushion_gap_m": [(0.95, 0.05), (0.6, 0.05), None, (0.9, 0.1)],
    "cushion_arm_ratio": [(1.3, 0.07), (0.85, 0.07), None, (1.5, 0.1)],
    "speed_kept_ratio": [(0.9, 0.05), (0.5, 0.05), (0.72, 0.05), (0.8, 0.05)],
}


def figure_px(x_px, y_px, height_px):
    """(23, 2) joints of the figure standing at a point of the picture."""
    return np.array([FIGURE[name] for name in JOINTS]) * height_px + (x_px, y_px)


def film_frame(width=1280, height=720, people=((560, 600, 380), (760, 590, 370))):
    """A drawn field with plain figures, as (height, width, 3), and their joints."""
    frame = np.zeros((height, width, 3), np.uint8)
    frame[: height // 3] = (150, 190, 225)
    frame[height // 3 :] = (75, 125, 60)
    noise = np.random.default_rng(1).integers(-12, 12, (height, width, 1))
    frame = np.clip(frame.astype(int) + noise, 0, 255).astype(np.uint8)
    joints = np.stack([figure_px(*person) for person in people])
    for points, (_, _, tall) in zip(joints.round().astype(int), people, strict=True):
        thick = max(2, tall // 14)
        for a, b in ((5, 7), (7, 9), (6, 8), (8, 10), (13, 15), (15, 17), (14, 16), (16, 18)):
            cv2.line(frame, points[a].tolist(), points[b].tolist(), (40, 60, 120), thick)
        cv2.fillConvexPoly(frame, points[[5, 6, 14, 13]], (180, 60, 50))
        head = points[:5].mean(axis=0).round().astype(int)
        cv2.circle(frame, head.tolist(), tall // 15, (215, 170, 140), -1)
        cv2.circle(frame, points[1].tolist(), max(1, tall // 90), (0, 0, 0), -1)
    return frame, joints


def _measurement(key, i_rep):
    value = VALUES.get(key, [None] * 4)[i_rep % 4]
    unit = MEASURES[key].unit
    if value is None:
        return Measurement(key=key, unit=unit, reason="hand hidden for 9 of 14 frames")
    best, u = value
    return Measurement(
        key=key,
        unit=unit,
        value=best,
        u=u,
        interval95=(best - 1.96 * u, best + 1.96 * u),
        frames=(12, 13),
    )


def make_analysis(
    name="evening practice 3.mp4", move="high_to_low_shot", n_reps=4, stature_m=1.80, n_frames=300
):
    """Everything that is known of an invented clip."""
    targets = load_targets()
    ranges = targets.for_athlete(move, "any", stature_m)
    results = []
    for i_rep in range(n_reps):
        measurements = {
            info.key: _measurement(info.key, i_rep)
            for info in measures_of(move)
            if info.key in VALUES
        }
        verdicts = judge_rep(measurements, ranges)
        start_s = 0.4 + 2.5 * i_rep
        results.append(
            RepResult(
                rep=Rep(
                    index=i_rep + 1,
                    start_s=start_s,
                    stop_s=start_s + 1.9,
                    start_frame=round(start_s * 30),
                    stop_frame=round((start_s + 1.9) * 30),
                    move=move,
                    stick_hand="right" if i_rep != 2 else None,
                    events={
                        "release": Event(
                            time_s=start_s + 1.31, frame=round((start_s + 1.31) * 30), u_s=0.012
                        )
                    },
                ),
                measurements=measurements,
                verdicts=verdicts,
                feedback=(),
                cautions=(),
            )
        )
    feedback = clip_feedback(
        results, stature_m=stature_m, defender_in_view=move == "close_gap_dodge"
    )
    draws = np.ones(3)
    n_people = 2
    return Analysis(
        clip=Clip(
            path=Path("/somewhere/on/a/phone") / name,
            digest="0123456789abcdef" * 4,
            width_px=1280,
            height_px=720,
            rotation_deg=0,
            mirrored=False,
            time_s=np.arange(n_frames) / 30.0,
        ),
        level="any",
        move=move,
        stature_m=stature_m,
        scene=Scene(
            grade="B",
            focal_px=1000 * draws,
            pitch_deg=5 * draws,
            roll_deg=0 * draws,
            height_m=1.5 * draws,
            principal_px=np.array([640.0, 360.0]),
            stature_m=stature_m * draws,
            body_scale=draws,
            notes=("The lens was not calibrated: a usual phone lens was assumed.",),
        ),
        tracks=SmoothTracks(
            model="full",
            time_s=np.arange(n_frames) / 30.0,
            image_px=np.full((n_people, n_frames, 23, 2), np.nan),
            body_m=np.full((n_people, n_frames, 23, 3), np.nan),
            noise_px=np.full((n_people, n_frames, 23), np.nan),
            overlapped=np.zeros((n_people, n_frames), bool),
        ),
        reps=feedback.reps,
        cautions=feedback.cautions,
        session=feedback.session,
        notes=("Film with 30 pictures a second: the moment of letting go is known to 0.01 s.",),
    )


@pytest.fixture
def analysis():
    return make_analysis()


@pytest.fixture
def make():
    return make_analysis


@pytest.fixture
def film():
    return film_frame
