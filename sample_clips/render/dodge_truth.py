"""Read the events and measures of the dodges off the exact skeleton, by their definitions."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from .events import all_landings, dodge_start, mid_foot, middle, speed, start_of
from .grips import OTHER
from .kinematics import Motion
from .moves.common import RepWindow
from .tracks import GRID_HZ

Floats = NDArray[np.float64]
Named = dict[str, float]

TRUNK_RADIUS_OF_STATURE = 0.09
SPEED_BEFORE_S = 0.3
"""Approach and exit speed are read this long before and after the plant."""
CHANGED_SHARE = 0.5
"""Hands have changed places once they are this share of their later distance apart on the shaft."""
DROP_SHARE, DROP_WITHIN_S = 0.4, 0.4
"""A change of speed by more than this share within so long starts a hesitation."""
ROLL_SHARE = 0.05
"""A roll lasts from 5 to 95 % of its turn."""


class Reader(Protocol):
    """Reads events and measures of one rep."""

    def __call__(
        self, motion: Motion, defender: Motion | None, rep: RepWindow
    ) -> tuple[Named, Named]:
        """Return events (s) and measures by name."""
        ...


def at(values: Floats, time_s: Floats, when: float) -> Floats:
    """Return values (n_times, ...) of the grid at one time, flattened."""
    flat = values.reshape(len(values), -1)
    result: Floats = np.array([np.interp(when, time_s, flat[:, k]) for k in range(flat.shape[1])])
    return result


def cushion(motion: Motion, defender: Motion, cut: float) -> Named:
    """Return the distances between the two players at the start of a dodge."""
    time_s = motion.time_s
    own, other = at(mid_foot(motion), time_s, cut), at(mid_foot(defender), time_s, cut)
    apart = float(np.linalg.norm(own - other))
    ends = [
        at(middle(m, part)[:, :2], time_s, cut)
        for m in (motion, defender)
        for part in ("hip", "shoulder")
    ]
    radii = TRUNK_RADIUS_OF_STATURE * (motion.body.stature_m + defender.body.stature_m)
    return {
        "cushion_m": apart,
        "cushion_gap_m": max(0.0, _segment_gap(*ends) - radii),
        "cushion_arm_ratio": apart / defender.body.arm_length_m,
    }


def _segment_gap(a: Floats, b: Floats, c: Floats, d: Floats) -> float:
    def to_segment(point: Floats, start: Floats, stop: Floats) -> float:
        line = stop - start
        share = float(np.clip((point - start) @ line / np.maximum(line @ line, 1e-12), 0, 1))
        return float(np.linalg.norm(point - start - share * line))

    return min(to_segment(a, c, d), to_segment(b, c, d), to_segment(c, a, b), to_segment(d, a, b))


def speeds(motion: Motion, cut: float) -> Named:
    """Return the speed of the pelvis before and after the plant, and their ratio."""
    pace = speed(middle(motion, "hip")[:, :2])[:, None]
    approach = float(at(pace, motion.time_s, cut - SPEED_BEFORE_S)[0])
    leave = float(at(pace, motion.time_s, cut + SPEED_BEFORE_S)[0])
    return {
        "approach_speed_mps": approach,
        "exit_speed_mps": leave,
        "speed_kept_ratio": leave / approach,
    }


def path_turn_deg(motion: Motion, cut: float) -> float:
    """Return the turn of the pelvis path from the 0.2 s before a cut to 0.3 to 0.5 s after it."""
    time_s, hips = motion.time_s, middle(motion, "hip")[:, :2]
    before = at(hips, time_s, cut) - at(hips, time_s, cut - 0.2)
    after = at(hips, time_s, cut + 0.5) - at(hips, time_s, cut + 0.3)
    turn = np.arctan2(before[0] * after[1] - before[1] * after[0], before @ after)
    return float(abs(np.rad2deg(turn)))


def close_gap(motion: Motion, defender: Motion | None, rep: RepWindow) -> tuple[Named, Named]:
    """Read a close-the-gap dodge."""
    cut = dodge_start(motion, rep)
    measures = _room(motion, defender, cut) | speeds(motion, cut)
    measures["path_turn_deg"] = path_turn_deg(motion, cut)
    return _events(motion, rep, cut), measures


def angle_cut(motion: Motion, defender: Motion | None, rep: RepWindow) -> tuple[Named, Named]:
    """Read an angle cut."""
    cut = dodge_start(motion, rep)
    measures = _room(motion, defender, cut) | speeds(motion, cut)
    measures["cut_angle_deg"] = path_turn_deg(motion, cut)
    return _events(motion, rep, cut), measures


def split(motion: Motion, defender: Motion | None, rep: RepWindow) -> tuple[Named, Named]:
    """Read a split dodge; ``jab_width_m`` is square to the path of the pelvis before the plant."""
    events, measures = angle_cut(motion, defender, rep)
    plant, time_s = events["plant"], motion.time_s
    hips = middle(motion, "hip")[:, :2]
    run = at(hips, time_s, plant - 0.2) - at(hips, time_s, plant - 0.5)
    run = run / np.linalg.norm(run)
    side = _landed(motion, plant)
    joints = motion.joints_m
    foot = (joints[f"{side}_heel"] + joints[f"{side}_toe"])[:, :2] / 2
    wide = at(foot, time_s, plant) - at(hips, time_s, plant)
    switched = hands_switched(motion, rep)
    events["hands_switched"] = switched
    measures["jab_width_m"] = float(abs(run[0] * wide[1] - run[1] * wide[0]))
    measures["hand_switch_s"] = switched - plant
    return dict(sorted(events.items(), key=lambda e: e[1])), measures


def hands_switched(motion: Motion, rep: RepWindow) -> float:
    """Return when the hand that was the lower one is above the other by half their later distance.

    Heights are along the shaft: the distance of the hands is read along the line of the stick.
    """
    if rep.change_s is None or rep.stick_hand is None:
        raise ValueError("the hands never change places")
    joints, time_s = motion.joints_m, motion.time_s
    shaft = joints["stick_head"] - joints["stick_butt"]
    shaft = shaft / np.linalg.norm(shaft, axis=1, keepdims=True)
    new, old = joints[f"{OTHER[rep.stick_hand]}_hand"], joints[f"{rep.stick_hand}_hand"]
    apart = ((new - old) * shaft).sum(1)
    last = round(rep.change_s[1] * GRID_HZ)
    first = round(rep.change_s[0] * GRID_HZ)
    rows = np.flatnonzero(apart[first : last + 1] < CHANGED_SHARE * apart[last])
    return float(time_s[first + rows[-1] + 1])


def roll(motion: Motion, defender: Motion | None, rep: RepWindow) -> tuple[Named, Named]:
    """Read a roll dodge: the first turn of a double one, and how many there are.

    The plant is the landing of the pivot foot; it drifts by the farthest that its ball comes to lie
    from there while the foot stands.
    """
    if rep.plant_s is None or rep.pivot_foot is None:
        raise ValueError("a roll needs its pivot foot")
    cut = _nearest_landing(motion, rep.plant_s, rep.pivot_foot)
    measures = _room(motion, defender, cut) | speeds(motion, cut)
    across = (motion.joints_m["left_hip"] - motion.joints_m["right_hip"])[:, :2]
    course = np.unwrap(np.arctan2(across[:, 1], across[:, 0]))
    first = round((rep.turns_s[0][0] - 0.15) * GRID_HZ)
    last = round((rep.turns_s[0][1] + 0.15) * GRID_HZ)
    turned = course[first : last + 1] - course[first]
    sign = np.sign(turned[-1])
    low, high = (sign * turned).min(), (sign * turned).max()
    share = (sign * turned - low) / (high - low)
    begin = int(np.flatnonzero(share[: share.argmax() + 1] < ROLL_SHARE)[-1])
    end = int(np.flatnonzero(share >= 1 - ROLL_SHARE)[0])
    measures |= {
        "roll_turn_deg": float(np.rad2deg(high - low)),
        "roll_time_s": (end - begin) / GRID_HZ,
        "pivot_drift_m": _drift_m(motion, rep.pivot_foot, cut),
        "n_rolls": float(len(rep.turns_s)),
    }
    events = _events(motion, rep, cut)
    events["roll_end"] = float(motion.time_s[first + end])
    return dict(sorted(events.items(), key=lambda e: e[1])), measures


def hesitation(motion: Motion, defender: Motion | None, rep: RepWindow) -> tuple[Named, Named]:
    """Read a hesitation: the drop against the speed of the approach, the time under half of it.

    The approach is the greatest speed in the 0.7 s before the pelvis has dropped by 40 % within
    0.4 s; the dodge starts with the last landing before that drop. Exit is the greatest speed in
    the 0.7 s after the hitch.
    """
    time_s = motion.time_s
    pace = speed(middle(motion, "hip")[:, :2])
    first, last = (round(t * GRID_HZ) for t in (rep.burst_s[0], rep.stop_s))
    lag = round(DROP_WITHIN_S * GRID_HZ)
    drop = next(
        i for i in range(first, last) if pace[i] < (1 - DROP_SHARE) * pace[i - lag : i].max()
    )
    before = [t for t, _ in all_landings(motion) if t <= time_s[drop]]
    approach = float(pace[drop - round(0.7 * GRID_HZ) : drop].max())
    slow = drop + int(np.flatnonzero(pace[drop:last] < 0.5 * approach)[0])
    fast = slow + int(np.flatnonzero(pace[slow:last] >= 0.5 * approach)[0])
    lowest = slow + int(pace[slow:fast].argmin())
    leave = float(pace[fast : fast + round(0.7 * GRID_HZ)].max())
    start = before[-1]
    measures = _room(motion, defender, start)
    measures |= {
        "approach_speed_mps": approach,
        "exit_speed_mps": leave,
        "speed_kept_ratio": leave / approach,
        "hitch_drop_ratio": float(pace[lowest]) / approach,
        "hitch_s": (fast - slow) / GRID_HZ,
    }
    events = {
        "start": start_of(motion, rep, start - 0.5),
        "dodge_start": start,
        "slowest": float(time_s[lowest]),
        "finish": float(rep.stop_s),
    }
    return events, measures


def foreign(motion: Motion, defender: Motion | None, rep: RepWindow) -> tuple[Named, Named]:
    """Read a move that is never taught: where it starts and ends, nothing else."""
    start = start_of(motion, rep, rep.burst_s[0])
    return {"start": start, "finish": float(rep.stop_s)}, {}


def _drift_m(motion: Motion, foot: str, landed: float) -> float:
    """Return how far the ball of a foot comes to lie from its landing, until its next step."""
    contacts = motion.contacts[foot]
    number = min(range(len(contacts)), key=lambda k: abs(contacts[k].land_s - landed))
    following = contacts[number + 1]
    leave = following.land_s - following.swing_s
    joints, time_s = motion.joints_m, motion.time_s
    ball = (0.3 * joints[f"{foot}_heel"] + 0.7 * joints[f"{foot}_toe"])[:, :2]
    rows = np.flatnonzero((time_s >= landed) & (time_s <= leave))
    return float(np.linalg.norm(ball[rows] - ball[rows[0]], axis=1).max())


def _room(motion: Motion, defender: Motion | None, cut: float) -> Named:
    return {} if defender is None else cushion(motion, defender, cut)


def _events(motion: Motion, rep: RepWindow, cut: float) -> Named:
    start = start_of(motion, rep, cut - 0.5)
    return {"start": start, "dodge_start": cut, "plant": cut, "finish": float(rep.stop_s)}


def _landed(motion: Motion, when: float) -> str:
    """Return the foot whose landing is nearest to a time."""
    return min(all_landings(motion), key=lambda step: abs(step[0] - when))[1]


def _nearest_landing(motion: Motion, when: float, foot: str) -> float:
    return min((t for t, f in all_landings(motion) if f == foot), key=lambda t: abs(t - when))


READERS: dict[str, Reader] = {
    "close_gap_dodge": close_gap,
    "split_dodge": split,
    "angle_cut_dodge": angle_cut,
    "roll_dodge": roll,
    "hesitation_dodge": hesitation,
    "unknown": foreign,
}
