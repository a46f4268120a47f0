"""Published proportions of the human body, for lengths that the film itself does not show.

All proportions are of grown people: for youth they are an assumption, which is why the stated
uncertainties are wider than the spread among adults.

References
----------
.. [1] R. Drillis and R. Contini, *Body Segment Parameters*, New York University, Technical Report
   1166-03, 1966, as tabulated by D. A. Winter, *Biomechanics and Motor Control of Human Movement*,
   figure 4.1.
.. [2] C. C. Gordon et al., *2012 Anthropometric Survey of U.S. Army Personnel: Methods and Summary
   Statistics*, NATICK/TR-15/007, 2014 (4082 men, 1986 women; public data).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from pipeline.core.types import FloatArray


@dataclass(frozen=True, slots=True)
class Ratio:
    """A length as a fraction of stature.

    Attributes
    ----------
    mean
        Mean over people.
    sd
        Standard deviation between people; NaN where the source gives none.
    """

    mean: float
    sd: float = math.nan


@dataclass(frozen=True, slots=True)
class Length:
    """An estimated length in metres.

    Attributes
    ----------
    value_m
        Best estimate, in the shape of the stature that was given.
    u_m
        Standard uncertainty (k = 1), the same shape.
    """

    value_m: FloatArray
    u_m: FloatArray


TEXTBOOK: Mapping[str, Ratio] = MappingProxyType(
    {
        "upper_arm": Ratio(0.186),
        "forearm": Ratio(0.146),
        "hand": Ratio(0.108),
        "eye_height": Ratio(0.936),
        "shoulder_height": Ratio(0.818),
        "trunk": Ratio(0.288),
        "thigh": Ratio(0.245),
        "shank": Ratio(0.246),
        "foot": Ratio(0.152),
        "hip_breadth": Ratio(0.191),
    }
)
"""Fractions of stature by Drillis and Contini [1]_; no spread is published with them."""

SURVEY_MEN: Mapping[str, Ratio] = MappingProxyType(
    {
        "upper_arm": Ratio(0.1909, 0.0061),
        "forearm": Ratio(0.1525, 0.0061),
        "hand": Ratio(0.1101, 0.0042),
        "forearm_and_hand": Ratio(0.2734, 0.0082),
        "shoulder_height": Ratio(0.8203, 0.0096),
        "span": Ratio(1.0330, 0.0274),
        "shoulder_breadth": Ratio(0.2368, 0.0098),
        "hip_breadth": Ratio(0.1970, 0.0129),
        "sitting_height": Ratio(0.5231),
        "eye_height_sitting": Ratio(0.4582),
    }
)
"""Men of the survey [2]_: mean and standard deviation of each man's length over his own stature."""

SURVEY_WOMEN: Mapping[str, Ratio] = MappingProxyType(
    {
        "upper_arm": Ratio(0.1911, 0.0065),
        "forearm": Ratio(0.1482, 0.0068),
        "hand": Ratio(0.1112, 0.0047),
        "forearm_and_hand": Ratio(0.2701, 0.0094),
        "shoulder_height": Ratio(0.8198, 0.0087),
        "span": Ratio(1.0195, 0.0292),
        "shoulder_breadth": Ratio(0.2244, 0.0096),
        "hip_breadth": Ratio(0.2174, 0.0153),
        "sitting_height": Ratio(0.5262),
        "eye_height_sitting": Ratio(0.4593),
    }
)
"""Women of the survey [2]_, as `SURVEY_MEN`."""


def _arm_length_of_stature() -> Ratio:
    """Shoulder to finger tip, sex unknown."""
    sums = [
        sum(group[part].mean for part in ("upper_arm", "forearm", "hand"))
        for group in (SURVEY_MEN, SURVEY_WOMEN)
    ]
    mean = sum(sums) / 2
    # Long arms are long in every part, so the parts' spreads add as they stand (an upper bound).
    spread = SURVEY_WOMEN["upper_arm"].sd + SURVEY_WOMEN["forearm_and_hand"].sd
    between_sexes = abs(sums[0] - sums[1]) / 2
    # The older table is 3 % shorter; which one fits an athlete, or a child, is not known. That is
    # a rectangular distribution of that half-width.
    textbook = sum(TEXTBOOK[part].mean for part in ("upper_arm", "forearm", "hand"))
    between_sources = abs(mean - textbook) / math.sqrt(3)
    return Ratio(mean, math.hypot(spread, between_sexes, between_sources))


def _eye_height_of_stature() -> Ratio:
    """Standing eye height, sex unknown: stature less the part from the eye to the crown."""
    eye_to_crown = [
        group["sitting_height"].mean - group["eye_height_sitting"].mean
        for group in (SURVEY_MEN, SURVEY_WOMEN)
    ]
    mean = 1.0 - sum(eye_to_crown) / 2
    # No spread is published for this difference. Assumed: 6 % of it, more than the 4 % by which
    # the hand and the forearm differ between people.
    spread = 0.06 * (1.0 - mean)
    between_sources = abs(mean - TEXTBOOK["eye_height"].mean) / math.sqrt(3)
    return Ratio(mean, math.hypot(spread, between_sources))


ARM_LENGTH_OF_STATURE = _arm_length_of_stature()
"""Shoulder (acromion) to finger tip; `sd` is the standard uncertainty for one unknown person."""

EYE_HEIGHT_OF_STATURE = _eye_height_of_stature()
"""Floor to eye of a person standing straight; `sd` as in `ARM_LENGTH_OF_STATURE`."""


def arm_length_m(stature_m: FloatArray | float) -> Length:
    """Arm length from the shoulder to the finger tip of a person of known stature.

    Parameters
    ----------
    stature_m
        Barefoot stature, any shape.

    Returns
    -------
    Length
        Mean of the men and the women of the survey [2]_, with an uncertainty that covers the spread
        between people, the sexes, and the gap to the older table [1]_. The uncertainty of the
        stature itself is the caller's.
    """
    return _length(ARM_LENGTH_OF_STATURE, stature_m)


def eye_height_m(stature_m: FloatArray | float) -> Length:
    """Height of the eyes above the floor of a person of known stature who stands straight.

    Parameters
    ----------
    stature_m
        Barefoot stature, any shape.

    Returns
    -------
    Length
        Stature less (sitting height - eye height sitting) of the survey [2]_.
    """
    return _length(EYE_HEIGHT_OF_STATURE, stature_m)


def _length(ratio: Ratio, stature_m: FloatArray | float) -> Length:
    stature = np.asarray(stature_m, dtype=float)
    return Length(ratio.mean * stature, ratio.sd * stature)
