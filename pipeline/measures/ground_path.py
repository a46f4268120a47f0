"""Where people went in a rep, seen from above, and on which side of the field."""

from __future__ import annotations

import numpy as np

from pipeline.core.messages import message
from pipeline.core.results import FieldSide, FootContact, GroundPath, Walk
from pipeline.core.spline import runs
from pipeline.core.types import FloatArray, Hand, Motion, Rep, Scene
from pipeline.scene.depth import Placed
from pipeline.scene.motion import motion_of

_FEET: tuple[Hand, Hand] = ("left", "right")


def ground_path(
    rep: Rep, *, athlete: Placed, defender: Placed | None, scene: Scene, time_s: FloatArray
) -> GroundPath | None:
    """Give the ways of the people of a rep by the best estimate.

    Parameters
    ----------
    rep
        For its window.
    athlete, defender
        Placed over the whole clip.
    scene
        The camera.
    time_s
        (n_frames,) times of the clip.

    Returns
    -------
    GroundPath or None
        None where the scene has no ground (grade C) or the rep has no frames.
    """
    if scene.grade == "C" or rep.stop_frame <= rep.start_frame:
        return None

    def walk(person: Placed) -> Walk:
        motion = motion_of(person, time_s, scene, rep.start_frame, rep.stop_frame, n_draws=1)
        return walk_of(motion)

    return GroundPath(
        athlete=walk(athlete),
        defender=None if defender is None else walk(defender),
    )


def walk_of(motion: Motion) -> Walk:
    """Give the way of one person over a motion.

    Parameters
    ----------
    motion
        Of which the best estimate (draw 0) is used.

    Returns
    -------
    Walk
        A contact during which heel or toe was never known is left out.
    """
    contacts = []
    for i_foot, foot in enumerate(_FEET):
        heel_m, toe_m = (motion.joint(f"{foot}_{part}")[0, :, :2] for part in ("heel", "toe"))
        for start, stop in runs(motion.contact[:, i_foot]):
            heel, toe = _mean(heel_m[start:stop]), _mean(toe_m[start:stop])
            if heel is None or toe is None:
                continue
            contacts.append(
                FootContact(
                    foot=foot,
                    start_s=float(motion.time_s[start]),
                    stop_s=float(motion.time_s[stop - 1]),
                    heel_m=heel,
                    toe_m=toe,
                )
            )
    return Walk(
        time_s=motion.time_s,
        hips_m=np.asarray(motion.middle("hip")[0, :, :2], float),
        contacts=tuple(sorted(contacts, key=lambda contact: contact.start_s)),
    )


def _mean(places_m: FloatArray) -> tuple[float, float] | None:
    known = places_m[np.isfinite(places_m).all(axis=1)]
    if known.size == 0:
        return None
    x_m, y_m = known.mean(axis=0)
    return float(x_m), float(y_m)


MIDDLE_M = 0.5
"""Nearer than this to the line straight out of the middle of the goal there is no side; our own
convention."""

AT_EVENTS = ("release", "dodge_start", "start")
"""The place is that at the first of these that the rep has."""


def field_side(rep: Rep, athlete: Placed, scene: Scene, time_s: FloatArray) -> FieldSide:
    """Tell the side of the field for the hand that was on top.

    The field is taken to lie on the athlete's side of the goal line.

    Parameters
    ----------
    rep
        With its events and its stick hand.
    athlete
        Placed over the clip.
    scene
        With the goal, if one was marked.
    time_s
        (n_frames,) times of the clip.

    Returns
    -------
    FieldSide
    """
    if scene.goal_m is None:
        return FieldSide()
    if rep.stick_hand is None:
        return FieldSide(None, message("reasons.no_stick_hand"))
    event = next((rep.events[name] for name in AT_EVENTS if name in rep.events), None)
    frame = rep.start_frame if event is None else event.frame
    motion = motion_of(athlete, time_s, scene, frame, frame + 1, n_draws=1)
    left_m = left_of_goal_m(motion.middle("hip")[0, 0, :2], scene.goal_m[0])
    if not np.isfinite(left_m):
        return FieldSide(None, message("reasons.no_player"))
    if abs(left_m) < MIDDLE_M:
        return FieldSide(None, message("reasons.before_goal"))
    is_natural = (left_m > 0) == (rep.stick_hand == "right")
    return FieldSide("natural" if is_natural else "other", None)


def left_of_goal_m(place_m: FloatArray, posts_m: FloatArray) -> float:
    """How far a place lies to the left of the goal's middle, for someone there who faces the goal.

    Parameters
    ----------
    place_m
        (2,) on the ground.
    posts_m
        (2, 2) one and the other end of the goal's mouth.

    Returns
    -------
    float
        Metres; to the right is negative.

    Examples
    --------
    >>> left_of_goal_m(np.array([3.0, 9.0]), np.array([[-0.9, 0.0], [0.9, 0.0]]))
    3.0
    >>> left_of_goal_m(np.array([3.0, -9.0]), np.array([[-0.9, 0.0], [0.9, 0.0]]))
    -3.0
    """
    line = posts_m[1] - posts_m[0]
    line = line / np.linalg.norm(line)
    from_middle = place_m - posts_m.mean(axis=0)
    # The line turned to the left points away from the athlete or towards him.
    before = float(line[0] * from_middle[1] - line[1] * from_middle[0])
    return float(np.sign(before) * (from_middle @ line))
