"""Moments of a long film that may be reps, and the classifier's probabilities for each."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from models.moves.classifier import NOT_A_REP, OTHER, MoveClassifier, move_classifier
from pipeline.core.move_table import kind_of
from pipeline.core.types import BoolArray, FloatArray, Hand, Motion
from pipeline.moves.body_frame import BodyFrame, body_frame
from pipeline.moves.naming.features import features_at, right_on_top
from pipeline.moves.naming.grid import STEP_S, MoveGrid, move_grid
from pipeline.moves.naming.rules import ruled, shown_at
from pipeline.moves.signals import Signals

BUSY_HAND, BUSY_HIPS = 0.9, 0.6
BUSY_REACH_S = 0.3
"""Moments are looked at if, within this reach, a hand is faster than the first (statures a second,
against the hips) or the hips are faster than the second: generous, a walk is busy."""

LEAST_REP = 0.4
LEAST_UNKNOWN_REP = 0.8
"""Probability above which a moment counts as a rep: of a known move, and of an unknown one, which
much that is not a rep resembles."""

LEAST_MOVE = 0.3
"""A rep is called unknown if its likeliest move is less likely than this, or than none of them."""

TOGETHER_S = 0.1
"""Moments this far to both sides of the likeliest one vote on the move."""

BETWEEN_REPS_S = 1.2
"""Key moments of two reps are at least this far apart."""

BETWEEN_DODGES_S = 2.0
"""So are those of two dodges, and of what is unknown: nobody is back at the start sooner."""

SHARPER = 0.5
"""The classifier's outputs are divided by this much of its temperature. That was set on simulated
films, which are harder to read than rendered ones; this on rendered film that was looked at."""

OTHER_REPS = 0.3
"""Reps of no known move are so much rarer on film of practice than on the simulated films, where a
quarter of all reps are such. Their probability is brought down by it (Saerens, Latinne and
Decaestecker 2002, section 2; from memory); chosen on looked-at film."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A moment that was classified as a rep.

    Attributes
    ----------
    time_s
        Key moment.
    right
        Whether the right hand was on top.
    rep_probability
        Probability that it is a rep at all.
    probabilities
        By class.
    start_s, stop_s
        From where to where the rep reaches, by the classifier's estimate.
    """

    time_s: float
    right: bool
    rep_probability: float
    probabilities: dict[str, float]
    start_s: float
    stop_s: float

    @property
    def move(self) -> str:
        """Key of the likeliest move; ``unknown`` when none is likely enough."""
        taught = {key: p for key, p in self.probabilities.items() if key not in (NOT_A_REP, OTHER)}
        best = max(taught, key=lambda key: taught[key])
        likely = taught[best] >= max(LEAST_MOVE, self.probabilities[OTHER])
        return best if likely else "unknown"

    @property
    def move_probability(self) -> float:
        """Probability of `move`, given that it is a rep; of ``unknown``, that it is no move."""
        key = OTHER if self.move == "unknown" else self.move
        return min(1.0, self.probabilities[key] / max(1.0 - self.probabilities[NOT_A_REP], 1e-9))


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """Class probabilities of every row of the grid; rows without activity are not reps."""

    time_s: FloatArray
    probabilities: FloatArray
    reaches_s: FloatArray
    right: BoolArray
    classes: tuple[str, ...]


def find_moments(
    motion: Motion,
    athlete: Signals,
    defender: Signals | None,
    given_hand: Hand | None = None,
    *,
    classifier: MoveClassifier | None = None,
) -> list[Candidate]:
    """Find the key moments of reps and what they are, at most one to a rep.

    Parameters
    ----------
    motion
        The athlete over the whole film.
    athlete, defender
        Signals of it, and of the defender.
    given_hand
        Top hand if known.
    classifier
        The shipped one if None.

    Returns
    -------
    list of Found
        In order.
    """
    classifier = classifier or move_classifier()
    frame = body_frame(motion, athlete)
    judged = judged_moments(frame, athlete, defender, given_hand, classifier)
    return chosen(judged)


def judged_moments(
    frame: BodyFrame,
    athlete: Signals,
    defender: Signals | None,
    given_hand: Hand | None,
    classifier: MoveClassifier,
) -> Judged:
    """Classify every moment of a motion, and check the results against the definitions.

    Parameters
    ----------
    frame
        The athlete's body over the whole film.
    athlete, defender, given_hand
        As for `find_moments`.
    classifier
        Any.

    Returns
    -------
    Judged
    """
    grid = move_grid(frame, athlete, defender)
    rows = busy_rows(grid)
    n, no_rep = grid.time_s.size, classifier.classes.index(NOT_A_REP)
    whole = np.zeros((n, len(classifier.classes)))
    whole[:, no_rep] = 1.0
    reaches_s, on_top = np.full((n, 2), np.nan), np.zeros(n, dtype=bool)
    if rows.size:
        sharper = replace(classifier, temperature=SHARPER * classifier.temperature)
        right = right_on_top(grid, rows, given_hand)
        features = features_at(grid, rows, right)
        shown = shown_at(grid, rows, right)
        shipped = _as_in_practice(
            MoveClassifier.probabilities(sharper, features), classifier.classes
        )
        probabilities = classifier.taught(features, ruled(shipped, classifier.classes, shown))
        whole[rows], on_top[rows] = probabilities, right
        likely = probabilities[:, no_rep] < 1.0 - 0.5 * LEAST_REP
        reaches_s[rows[likely]] = classifier.reaches_s(features[likely])
    return Judged(
        time_s=grid.time_s,
        probabilities=whole,
        reaches_s=reaches_s,
        right=on_top,
        classes=classifier.classes,
    )


def _as_in_practice(probabilities: FloatArray, classes: tuple[str, ...]) -> FloatArray:
    """Bring probabilities (m, n_classes) from the simulated films to those of practice."""
    weight = np.array([OTHER_REPS if name == OTHER else 1.0 for name in classes])
    weighed = probabilities * weight
    return np.asarray(weighed / weighed.sum(axis=1, keepdims=True))


def busy_rows(grid: MoveGrid) -> np.ndarray:
    """Rows of the grid at which something goes on."""
    pace = np.linalg.norm(grid.velocity, axis=1)
    with np.errstate(invalid="ignore"):
        busy = (grid.body[:, 6:8].max(axis=1) > BUSY_HAND) | (pace > BUSY_HIPS)
    reach = round(BUSY_REACH_S / STEP_S)
    near = np.convolve(busy, np.ones(2 * reach + 1), "same") > 0
    return np.flatnonzero(near & (grid.known > 0.5))


def chosen(judged: Judged) -> list[Candidate]:
    """Take the likeliest moments, none that is part of a likelier rep.

    Parameters
    ----------
    judged
        Every row of the grid.

    Returns
    -------
    list of Found
        In order; keys are `BETWEEN_REPS_S` apart, those of dodges `BETWEEN_DODGES_S`.
    """
    time_s, classes = judged.time_s, judged.classes
    reach = round(TOGETHER_S / STEP_S)
    window = np.ones(2 * reach + 1) / (2 * reach + 1)
    smooth = np.column_stack(
        [np.convolve(column, window, "same") for column in judged.probabilities.T]
    )
    smooth /= smooth.sum(axis=1, keepdims=True)
    rep = 1.0 - smooth[:, classes.index(NOT_A_REP)]
    found: list[Candidate] = []
    for row in np.argsort(-rep, kind="stable"):
        if rep[row] < LEAST_REP:
            break
        if any(abs(time_s[row] - other.time_s) < BETWEEN_REPS_S for other in found):
            continue
        near = slice(max(0, row - reach), row + reach + 1)
        if not np.isfinite(judged.reaches_s[near]).any():
            continue
        reach_s = np.array([-1.0, 1.0]) * judged.reaches_s[near]
        start_s, stop_s = np.nanmedian(time_s[near, None] + reach_s, axis=0)
        one = Candidate(
            time_s=float(time_s[row]),
            start_s=float(start_s),
            stop_s=float(stop_s),
            right=bool(judged.right[row]),
            rep_probability=float(rep[row]),
            probabilities=dict(zip(classes, smooth[row].tolist(), strict=True)),
        )
        sure = one.move != "unknown" or one.rep_probability >= LEAST_UNKNOWN_REP
        if sure and not any(_same_rep(one, other) for other in found):
            found.append(one)
    return sorted(found, key=lambda one: one.time_s)


def _same_rep(one: Candidate, other: Candidate) -> bool:
    """Whether a moment is part of a likelier rep.

    A double roll is one rep, and so are a long hitch and what comes to its height twice. The turn
    out of which a throwback is passed is no dodge: the pass reaches back to it.
    """
    dodges = all(each.move == "unknown" or kind_of(each.move) == "dodge" for each in (one, other))
    if dodges and abs(one.time_s - other.time_s) < BETWEEN_DODGES_S:
        return True
    return kind_of(other.move) == "pass" and other.start_s < one.time_s < other.stop_s
