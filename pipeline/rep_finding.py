"""Finds the reps of a long film and names their moves, without being told what was done."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from models.moves.classifier import MoveClassifier, move_classifier
from pipeline.body_frame import body_frame
from pipeline.bursts import Burst
from pipeline.events import FINISH_SPREAD_S, START_SPREAD_S, event_at
from pipeline.move_features import features_at, right_on_top
from pipeline.move_grid import STEP_S, MoveGrid, move_grid
from pipeline.moves import MOVES
from pipeline.signals import Signals, signals_of
from pipeline.throws import throwing_speed
from pipeline.types import FloatArray, Hand, Motion, Rep

NOT_A_REP, OTHER = "not_a_rep", "other"

BUSY_HAND, BUSY_HIPS = 0.9, 0.6
BUSY_REACH_S = 0.3
"""Moments are looked at if, within this reach, a hand is faster than the first (statures a second,
against the hips) or the hips are faster than the second: generous, a walk is busy."""

LEAST_REP = 0.5
"""Probability of a rep above which a moment is taken for one."""

LEAST_MOVE = 0.35
"""A rep is called unknown if its likeliest move is less likely than this, or than none of them."""

TOGETHER_S = 0.1
"""Moments this far to both sides of the likeliest one vote on the move."""

BETWEEN_REPS_S = 1.2
"""Key moments of two reps are at least this far apart."""

REFINED_S = 0.2
"""A throw's burst is looked for this far from its moment."""

REST_S = 1.0
"""A rep may reach this much further than the classifier tells."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A moment that was taken for a rep.

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
        From where to where the rep reaches, as far as the classifier can tell.
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
        """Probability of `move`; of ``unknown``, that it is none of the moves."""
        if self.move == "unknown":
            return self.probabilities[OTHER]
        return self.probabilities[self.move]


def find_all_reps(
    athlete: Motion,
    defender: Motion | None = None,
    told_hand: Hand | None = None,
    *,
    classifier: MoveClassifier | None = None,
) -> list[Rep]:
    """Find all reps of a film, whatever their moves.

    Parameters
    ----------
    athlete, defender
        Best-estimate motions over the whole film; the defender may be None.
    told_hand
        Top hand where it was told.
    classifier
        The shipped one if None.

    Returns
    -------
    list of Rep
        In order, numbered from 1; those of which the move is not sure are called ``unknown``.
    """
    signals = signals_of(athlete)
    other = None if defender is None else signals_of(defender)
    found = find_moments(athlete, signals, other, told_hand, classifier=classifier)
    return _reps(signals, other, found, told_hand)


def find_moments(
    motion: Motion,
    athlete: Signals,
    defender: Signals | None,
    told_hand: Hand | None = None,
    *,
    classifier: MoveClassifier | None = None,
) -> list[Found]:
    """Find the key moments of reps and what they are, at most one to a rep.

    Parameters
    ----------
    motion
        The athlete over the whole film.
    athlete, defender
        Signals of it, and of the defender.
    told_hand
        Top hand where it was told.
    classifier
        The shipped one if None.

    Returns
    -------
    list of Found
        In order.
    """
    classifier = classifier or move_classifier()
    grid = move_grid(body_frame(motion, athlete), athlete, defender)
    rows = busy_rows(grid)
    if rows.size == 0:
        return []
    right = right_on_top(grid, rows, told_hand)
    features = features_at(grid, rows, right)
    probabilities = classifier.probabilities(features)
    whole = np.zeros((grid.time_s.size, len(classifier.classes)))
    whole[:, classifier.classes.index(NOT_A_REP)] = 1.0
    whole[rows] = probabilities
    on_top = np.zeros(grid.time_s.size, dtype=bool)
    on_top[rows] = right
    reaches_s = np.full((grid.time_s.size, 2), np.nan)
    likely = probabilities[:, classifier.classes.index(NOT_A_REP)] < 1.0 - 0.5 * LEAST_REP
    reaches_s[rows[likely]] = classifier.reaches_s(features[likely])
    return _likeliest(grid.time_s, whole, on_top, reaches_s, classifier.classes)


def busy_rows(grid: MoveGrid) -> np.ndarray:
    """Rows of the grid at which something goes on."""
    pace = np.linalg.norm(grid.velocity, axis=1)
    with np.errstate(invalid="ignore"):
        busy = (grid.body[:, 6:8].max(axis=1) > BUSY_HAND) | (pace > BUSY_HIPS)
    reach = round(BUSY_REACH_S / STEP_S)
    near = np.convolve(busy, np.ones(2 * reach + 1), "same") > 0
    return np.flatnonzero(near & (grid.known > 0.5))


def _likeliest(
    time_s: FloatArray,
    probabilities: FloatArray,
    right: np.ndarray,
    reaches_s: FloatArray,
    classes: tuple[str, ...],
) -> list[Found]:
    """Take the likeliest moments, none nearer than `BETWEEN_REPS_S` to a likelier one."""
    reach = round(TOGETHER_S / STEP_S)
    window = np.ones(2 * reach + 1) / (2 * reach + 1)
    smooth = np.column_stack([np.convolve(column, window, "same") for column in probabilities.T])
    rep = 1.0 - smooth[:, classes.index(NOT_A_REP)]
    found: list[Found] = []
    for row in np.argsort(-rep, kind="stable"):
        if rep[row] < LEAST_REP:
            break
        if all(abs(time_s[row] - other.time_s) >= BETWEEN_REPS_S for other in found):
            near = slice(max(0, row - reach), row + reach + 1)
            with np.errstate(invalid="ignore"):
                start_s = np.nanmedian(time_s[near] - reaches_s[near, 0])
                stop_s = np.nanmedian(time_s[near] + reaches_s[near, 1])
            found.append(
                Found(
                    start_s=float(start_s),
                    stop_s=float(stop_s),
                    time_s=float(time_s[row]),
                    right=bool(right[row]),
                    rep_probability=float(rep[row]),
                    probabilities=dict(
                        zip(classes, (smooth[row] / smooth[row].sum()).tolist(), strict=True)
                    ),
                )
            )
    return sorted(found, key=lambda one: one.time_s)


def _reps(
    athlete: Signals, defender: Signals | None, found: list[Found], told_hand: Hand | None
) -> list[Rep]:
    """Make a rep of each moment; none reaches into the one before it."""
    time_s = athlete.time_s
    frames = [int(np.argmin(np.abs(time_s - one.time_s))) for one in found]
    reps: list[Rep] = []
    earliest = 0
    for number, one in enumerate(found):
        latest = frames[number + 1] if number + 1 < len(found) else time_s.size
        hand: Hand = told_hand or ("right" if one.right else "left")
        # A move's own events are looked for no further off than the classifier's reach and a rest.
        first = int(np.searchsorted(time_s, one.start_s - REST_S))
        last = int(np.searchsorted(time_s, one.stop_s + REST_S))
        burst = Burst(
            frame=frames[number],
            earliest=min(max(earliest, first), frames[number]),
            latest=max(min(latest, last), frames[number] + 1),
            hand=hand,
        )
        rep = _rep(athlete, defender, one, burst)
        reps.append(
            replace(
                rep, index=len(reps) + 1, move=one.move, move_by="found",
                move_probability=one.move_probability,
            )
        )  # fmt: skip
        earliest = max(earliest, min(rep.stop_frame - 1, latest - 1))
    return reps


def _rep(athlete: Signals, defender: Signals | None, one: Found, burst: Burst) -> Rep:
    """Make the rep by its move's own events, or by rest before and after it."""
    likeliest = max(
        (key for key in one.probabilities if key not in (NOT_A_REP, OTHER)),
        key=lambda key: one.probabilities[key],
    )
    throws = likeliest.endswith(("shot", "pass"))
    refined = replace(burst, frame=_refined(athlete, burst, throws=throws))
    if one.move in MOVES:
        return MOVES[one.move].rep_of(athlete, defender, refined)
    return _by_reach(athlete, one, refined)


def _refined(athlete: Signals, burst: Burst, *, throws: bool) -> int:
    """Frame of the greatest speed of the top hand to the front and down, near a throw's moment."""
    if not throws:
        return burst.frame
    near = np.abs(athlete.time_s - athlete.time_s[burst.frame]) <= REFINED_S
    speed = throwing_speed(athlete)[:, 0 if burst.hand == "left" else 1]
    speed = np.where(near & np.isfinite(speed), speed, -np.inf)
    return int(np.argmax(speed)) if np.isfinite(speed).any() else burst.frame


def _by_reach(athlete: Signals, one: Found, burst: Burst) -> Rep:
    """Make a rep that reaches as far as the classifier tells."""
    time_s = athlete.time_s
    start_s = float(np.clip(one.start_s, time_s[burst.earliest], time_s[burst.frame]))
    stop_s = float(np.clip(one.stop_s, time_s[burst.frame], time_s[burst.latest - 1]))
    start = event_at(athlete, start_s, spread_s=START_SPREAD_S)
    finish = event_at(athlete, stop_s, spread_s=FINISH_SPREAD_S)
    return Rep(
        index=1,
        start_s=start_s,
        stop_s=stop_s,
        start_frame=start.frame,
        stop_frame=finish.frame + 1,
        move="unknown",
        stick_hand=burst.hand,
        events={"start": start, "finish": finish},
    )
