"""Lengths of arms that a target range may be a fraction of: the athlete's, or the defender's."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from pipeline.core.results import Measurement
from pipeline.measures import MEASURES

U_OF_TAPE_M = 0.01
"""Standard uncertainty of an arm that somebody taped; our own assumption."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Arm:
    """Length of somebody's arm, shoulder to finger tip.

    Attributes
    ----------
    length_m, u_m
        Length and its standard uncertainty; NaN if it is not known.
    """

    length_m: float
    u_m: float


def takes_defenders_arm(key: str) -> bool:
    """Whether a range in arm lengths for this measure means the defender's arm.

    A cushion is the room that the defender's reach leaves: "barely out of his reach" is a multiple
    of *his* arm, whatever the attacker's. So for measures of the room to the defender an arm length
    is his. For all other lengths (how far the hands drop, how high they are, how far the foot
    steps) it is the athlete's own.
    """
    return MEASURES[key].arm_of == "defender"


@lru_cache(maxsize=64)
def published_arm(stature_m: float) -> Arm:
    """Arm of a person of this stature by published proportion, as unsure as people differ.

    See `calibration.anthropometry.arm_length_m` for the sources.
    """
    from calibration.anthropometry import arm_length_m

    arm = arm_length_m(stature_m)
    return Arm(length_m=float(arm.value_m), u_m=float(arm.u_m))


def given_arm(length_m: float | None) -> Arm | None:
    """Arm of the athlete as it was taped, shoulder to finger tip; None when nobody did.

    The film's own reading of the athlete's arm is not used for ranges: it is counted from the point
    that the pose model takes for the shoulder, which makes it some 4 % of stature shorter than a
    tape would, and not every film shows it. A range would then differ by a tenth from
    one film to the next.
    """
    return None if length_m is None else Arm(length_m=length_m, u_m=U_OF_TAPE_M)


def defenders_arm(measurements: Mapping[str, Measurement]) -> Arm | None:
    """Arm of the defender as measured in this rep; None when it was not.

    Nothing else is known of the defender: no stature was given, and the athlete's would be a guess.
    `defender_arm_length_m` itself falls back on the published share of the stature that the film
    gives him where his arms were hardly seen. It is the arm that `cushion_arm_ratio` divides by, so
    that a cushion in metres against a range in arms and that ratio against a number agree.
    """
    measured = measurements.get("defender_arm_length_m")
    if measured is None or measured.value is None:
        return None
    u_m = measured.u if measured.u is not None and math.isfinite(measured.u) else 0.0
    return Arm(length_m=measured.value, u_m=u_m)
