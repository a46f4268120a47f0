"""What the move classifier takes each rep of a drill for: a second opinion beside its motion.

The classifier has learnt to overlook whose body it is and where the camera stands, which a few
examples from one clip cannot teach. Two reps of one drill get the same class, whatever it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from models.moves.classifier import CHECKSUMS, NOT_A_REP, OTHER, move_classifier
from pipeline.core.types import FloatArray
from pipeline.moves.body_frame import BodyFrame
from pipeline.moves.naming.candidates import judged_moments
from pipeline.moves.signals import Signals

ABOUT = 2
"""So many instants to both sides of the surest one of a stretch are averaged."""

MOST_UNKNOWN = 0.5
"""Where the classes outside the known moves have more than this, the profile shows nothing."""

LEAST_OF_REPS = 0.2
"""Nor does it where the classes of reps together have less than this."""

NO_REP = 0.95
"""Above this probability of no rep, no rep of a drill like a known move is found."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Looks:
    """Class probabilities over a clip.

    Attributes
    ----------
    time_s
        (n,) even instants.
    probabilities
        (n, n_classes) of each class.
    weights
        Checksum of the weights that gave them: looks by others are not to be compared.
    """

    time_s: FloatArray
    probabilities: FloatArray
    weights: str


def looks_of(frame: BodyFrame, athlete: Signals, defender: Signals | None) -> Looks:
    """Ask the classifier that comes with the program about every instant of a clip.

    Parameters
    ----------
    frame
        The athlete's body.
    athlete, defender
        Signals over the same frames.

    Returns
    -------
    Looks
    """
    judged = judged_moments(frame, athlete, defender, None, move_classifier())
    weights = CHECKSUMS.read_text(encoding="ascii").split()[0]
    return Looks(time_s=judged.time_s, probabilities=judged.probabilities, weights=weights)


def look_at(looks: Looks, start_s: float, stop_s: float) -> FloatArray:
    """(n_classes,) class probabilities of a stretch, at the instant that is surest a rep."""
    from scipy.ndimage import uniform_filter1d

    first, last = np.searchsorted(looks.time_s, (start_s, stop_s))
    first = min(int(first), looks.time_s.size - 1)
    given = looks.probabilities[first : max(int(last), first + 1)]
    steady = uniform_filter1d(given, 2 * ABOUT + 1, axis=0, mode="nearest")
    steady = np.maximum(steady, 0.0)  # its running sums may end a hair below
    return np.asarray(steady[int(np.argmin(steady[:, move_classifier().classes.index(NOT_A_REP)]))])


def common_look(looks: Looks, windows_s: Sequence[tuple[float, float]]) -> FloatArray | None:
    """Mean look of the examples as the reps that they are; None where it shows nothing.

    The examples are reps by definition, so the probability of no rep is left out.
    """
    mean = np.mean([look_at(looks, *window_s) for window_s in windows_s], axis=0)
    mean[move_classifier().classes.index(NOT_A_REP)] = 0.0
    total = float(mean.sum())
    if total < LEAST_OF_REPS or is_uninformative(mean / total):
        return None
    return np.asarray(mean / total)


def is_uninformative(look: FloatArray) -> bool:
    """Whether a look is mostly that of no rep, or of a rep of no move that is known."""
    classes = move_classifier().classes
    return bool(look[classes.index(NOT_A_REP)] + look[classes.index(OTHER)] > MOST_UNKNOWN)


def surely_no_rep(look: FloatArray) -> bool:
    """Whether a look is that of no rep of any move, as the examples of a known one are not."""
    return bool(look[move_classifier().classes.index(NOT_A_REP)] > NO_REP)


def alike(one: FloatArray, other: FloatArray) -> float:
    """Bhattacharyya coefficient of two looks: 1 the same, 0 nothing in common.

    Bhattacharyya (1943), "On a measure of divergence between two statistical populations defined
    by their probability distributions", *Bulletin of the Calcutta Mathematical Society* 35.
    """
    return float(np.sqrt(one * other).sum())
