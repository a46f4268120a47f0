"""Truths that follow from a clip's true joints: angles at events, and the defender's arm."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.interpolate import CubicSpline

from pipeline.measures.angles import AFTER_S, BEFORE_S

Truth = dict[str, Any]

FROM_THE_SIDE_DEG = 35.0
"""A limb is seen from the side where neither segment is turned further out of the picture."""

BENDS_WITHIN_S = 0.25
SQUARE = 0.5
"""A knee in the frontal plane is read at its deepest bend after the plant, from front or back."""

ANGLES = {
    "elbow_at_release_deg": ("release", ("shoulder", "elbow", "wrist")),
    "front_knee_at_plant_deg": ("plant", ("hip", "knee", "ankle")),
}
"""Measure: the event at which it is read, and the joints of the limb."""

SHOTS = ("high_to_low_shot", "low_to_high_shot", "on_the_run_shot", "step_down_shot")
PLANTS = (
    "throwback_pass", "pivot_throwback_pass", "close_gap_dodge", "on_the_run_shot", "step_down_shot"
)  # fmt: skip
GRID_HZ = 240.0
TWIST_BEFORE_S = 0.8


def derived_truths(truth: Truth, i_rep: int) -> dict[str, float]:
    """Measures of one rep that the truth file does not hold, read off the true joints.

    Parameters
    ----------
    truth
        A clip's truth.
    i_rep
        Index of the rep.

    Returns
    -------
    dict
        By measure key; angles in deg, lengths in m. Angles stand only where the limb is seen from
        the side.
    """
    found: dict[str, float] = {}
    rep = truth["reps"][i_rep]
    for key, (event, parts) in ANGLES.items():
        if event not in rep["events"] or (key.startswith("front_knee") and not _is_run(truth)):
            continue
        instant_s = rep["events"][event]["time_s"]
        side = _side(truth, key, instant_s, rep)
        joints_m = [_joint_m(truth, f"{side}_{part}", instant_s) for part in parts]
        if _out_of_picture_deg(truth, joints_m) <= FROM_THE_SIDE_DEG:
            found[key] = _included_deg(*joints_m)
    if rep.get("move", truth["move"]) in SHOTS:
        found |= _turns(truth, rep)
    if truth["move"].endswith("_dodge") and "plant" in rep["events"]:
        found |= _plant_leg(truth, rep)
    if "defender" in truth["people"]:
        found["defender_arm_length_m"] = truth["people"]["defender"]["arm_length_m"]
    return found


def _plant_leg(truth: Truth, rep: Truth) -> dict[str, float]:
    """Lean over the plant leg, and its knee in the frontal plane if that is seen square."""
    plant_s = rep["events"]["plant"]["time_s"]
    side = _side(truth, "front_knee_at_plant_deg", plant_s, rep)
    other = "left" if side == "right" else "right"

    def sight_at(middle_m: Any) -> Any:
        sight = middle_m - np.asarray(truth["camera"]["position_field_m"])[:2]
        return sight / np.linalg.norm(sight)

    def seen(instant_s: float, *, in_picture: bool) -> dict[str, Any]:
        names = (
            *(f"{side}_{part}" for part in ("hip", "knee", "ankle", "shoulder")),
            f"{other}_hip", f"{other}_shoulder",
        )  # fmt: skip
        joints = {name: _joint_m(truth, name, instant_s) for name in names}
        line = (joints[f"{side}_hip"] - joints[f"{other}_hip"])[:2]
        outward = line / np.linalg.norm(line)
        sight = sight_at(joints[f"{side}_hip"][:2])
        square = abs(float(sight @ outward)) < SQUARE
        if in_picture:
            across = np.array([-sight[1], sight[0]])
            outward = across * np.sign(across @ outward)
        return {
            name: np.array([joint[:2] @ outward, joint[2]]) for name, joint in joints.items()
        } | {"square": square}

    def middle(points: dict[str, Any], part: str) -> Any:
        return 0.5 * (points[f"{side}_{part}"] + points[f"{other}_{part}"])

    at_plant = seen(plant_s, in_picture=False)
    trunk = middle(at_plant, "shoulder") - middle(at_plant, "hip")
    found = {"trunk_over_plant_deg": float(np.degrees(np.arctan2(*trunk)))}
    instants_s = np.linspace(plant_s, plant_s + BENDS_WITHIN_S, 26)
    bends = [
        _included_deg(*(_joint_m(truth, f"{side}_{part}", t) for part in ("hip", "knee", "ankle")))
        for t in instants_s
    ]
    deepest = seen(float(instants_s[int(np.argmin(bends))]), in_picture=True)
    if deepest["square"]:
        shank = deepest[f"{side}_knee"] - deepest[f"{side}_ankle"]
        thigh = deepest[f"{side}_hip"] - deepest[f"{side}_knee"]
        outwards = [np.degrees(np.arctan2(*part)) for part in (thigh, shank)]
        found["knee_in_deg"] = float(outwards[0] - outwards[1])
    return found


def _is_run(truth: Truth) -> bool:
    return truth["move"] in PLANTS or truth["move"].endswith("_dodge")


def _turns(truth: Truth, rep: Truth) -> dict[str, float]:
    """Twist, turn speeds and the order of their peaks about a shot's release, on a fine grid."""
    release_s = rep["events"]["release"]["time_s"]
    person, times = truth["people"]["athlete"], np.asarray(truth["frame_times_s"])
    near = np.abs(times - release_s) < 1.2
    joints = CubicSpline(times[near], np.asarray(person["joints_field_m"])[near])
    grid_s = np.arange(release_s - TWIST_BEFORE_S, release_s + AFTER_S, 1 / GRID_HZ)
    grid_s = grid_s[(grid_s >= times[near][0]) & (grid_s <= times[near][-1])]
    until, turning = grid_s <= release_s, grid_s >= release_s - BEFORE_S
    way = 1.0 if rep["stick_hand"] == "right" else -1.0
    heading, peak_s, found = {}, {}, {}
    for part, name in (("hip", "pelvis"), ("shoulder", "trunk")):
        left, right = (person["joints"].index(f"{side}_{part}") for side in ("left", "right"))
        line = joints(grid_s)[:, right] - joints(grid_s)[:, left]
        heading[name] = np.degrees(np.unwrap(np.arctan2(line[:, 1], line[:, 0])))
        speed = np.where(turning, way * np.gradient(heading[name], grid_s), -np.inf)
        found[f"{name}_turn_speed_dps"] = float(speed[until].max())
        peak_s[name] = float(grid_s[np.argmax(speed)])
    apart = (heading["trunk"] - heading["pelvis"] + 180.0) % 360.0 - 180.0
    return found | {
        "separation_deg": float(np.abs(apart[until]).max()),
        "pelvis_to_trunk_s": peak_s["trunk"] - peak_s["pelvis"],
        "trunk_to_hand_s": release_s - peak_s["trunk"],
    }


def _side(truth: Truth, key: str, instant_s: float, rep: Truth) -> str:
    """Side of the limb: the top hand's, or that of the foot that lands at the instant."""
    if key.startswith("elbow"):
        return str(rep["stick_hand"])
    landings = truth["people"]["athlete"]["landings_s"]
    return min(landings, key=lambda foot: min(abs(t - instant_s) for t in landings[foot]))


def _joint_m(truth: Truth, name: str, instant_s: float) -> Any:
    person = truth["people"]["athlete"]
    times = np.asarray(truth["frame_times_s"])
    near = np.abs(times - instant_s) < 0.3
    track = np.asarray(person["joints_field_m"])[:, person["joints"].index(name)]
    return CubicSpline(times[near], track[near])(instant_s)


def _included_deg(a: Any, vertex: Any, c: Any) -> float:
    first, second = a - vertex, c - vertex
    cosine = first @ second / (np.linalg.norm(first) * np.linalg.norm(second))
    return float(np.degrees(np.arccos(cosine)))


def _out_of_picture_deg(truth: Truth, joints_m: list[Any]) -> float:
    """Greatest turn of a segment of the limb towards or away from the camera."""
    a, vertex, c = joints_m
    sight = vertex - np.asarray(truth["camera"]["position_field_m"])
    sight = sight / np.linalg.norm(sight)
    sines = [abs(part @ sight) / np.linalg.norm(part) for part in (a - vertex, c - vertex)]
    return float(np.degrees(np.arcsin(np.clip(max(sines), 0.0, 1.0))))
