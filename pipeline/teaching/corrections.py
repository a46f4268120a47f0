"""Corrections of what the program found: which moments of a film they are about, and what is so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from models.moves.classifier import NOT_A_REP, OTHER, MoveClassifier
from pipeline.core.errors import CorrectionError
from pipeline.core.types import FloatArray, Hand, Motion
from pipeline.moves.body_frame import body_frame
from pipeline.moves.naming.candidates import busy_rows
from pipeline.moves.naming.features import features_at, right_on_top
from pipeline.moves.naming.grid import move_grid
from pipeline.moves.signals import signals_of
from pipeline.teaching.team_classifier import Lesson

CorrectionKind = Literal["relabelled", "confirmed", "dismissed", "split", "joined"]
TimeSpan = tuple[float, float]

NEAR_S = 0.11
"""Moments this near to the key moment are learned with it."""

OF_LIKELIEST = 0.25
MOST_DISMISSED = 40
"""In what is not a rep, moments are learned whose probability of a rep is this share of the
greatest at least, no more of them than this."""

N_ANCHORS = 60
AWAY_S = 0.3
"""So many moments of a film are kept as it sees them, this far from all that is corrected."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Moments:
    """The moments of a film at which something goes on.

    Attributes
    ----------
    clip
        Digest of the film.
    time_s
        (m,) clip time.
    features
        (m, n_features).
    """

    clip: str
    time_s: FloatArray
    features: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """A person's correction of one or two reps.

    Attributes
    ----------
    kind
        What was done.
    was, label
        Move as it was found, and as it is; ``not_a_rep`` for none, ``other`` for none of the moves.
    windows_s
        Windows of the reps in clip time, as they are taken now.
    lessons
        What is learned from it.
    clip
        Digest of the film.
    by, at
        Who, and when (UTC, ISO 8601).
    """

    kind: CorrectionKind
    was: str
    label: str
    windows_s: tuple[TimeSpan, ...]
    lessons: tuple[Lesson, ...]
    clip: str
    by: str
    at: str


def moments_of(
    clip: str, athlete: Motion, defender: Motion | None, given_hand: Hand | None
) -> Moments:
    """See the moments of a film as the classifier does.

    Parameters
    ----------
    clip
        Digest of the film.
    athlete, defender
        Best-estimate motions over the whole film; the defender may be None.
    given_hand
        Top hand if known.
    """
    signals = signals_of(athlete)
    other = None if defender is None else signals_of(defender)
    grid = move_grid(body_frame(athlete, signals), signals, other)
    rows = busy_rows(grid)
    features = features_at(grid, rows, right_on_top(grid, rows, given_hand))
    return Moments(clip=clip, time_s=grid.time_s[rows], features=features)


def relabelled(moments: Moments, window_s: TimeSpan, label: str, base: MoveClassifier) -> Lesson:
    """Learn that the rep in a window is of this class.

    Raises
    ------
    CorrectionError
        Nothing goes on in the window.
    """
    key = _key(moments, window_s, base)
    near = np.abs(moments.time_s - moments.time_s[key]) <= NEAR_S
    return Lesson(features=moments.features[near], label=label, clip=moments.clip)


def dismissed(moments: Moments, window_s: TimeSpan, base: MoveClassifier) -> Lesson:
    """Learn that there is no rep in a window.

    Raises
    ------
    CorrectionError
        Nothing goes on in the window.
    """
    rep = _rep_probability(moments, base)
    key = _key(moments, window_s, base)
    likely = _inside(moments, window_s) & (rep >= OF_LIKELIEST * rep[key])
    rows = np.flatnonzero(likely)
    rows = rows[np.argsort(-rep[rows], kind="stable")[:MOST_DISMISSED]]
    return Lesson(features=moments.features[np.sort(rows)], label=NOT_A_REP, clip=moments.clip)


def joined(
    moments: Moments, windows_s: Sequence[TimeSpan], label: str, base: MoveClassifier
) -> tuple[Lesson, ...]:
    """Learn that the reps in two windows are one: the likelier moment is its key, the other none.

    Raises
    ------
    CorrectionError
        Nothing goes on in a window.
    """
    rep = _rep_probability(moments, base)
    ranked = sorted(windows_s, key=lambda window_s: -rep[_key(moments, window_s, base)])
    none = [relabelled(moments, window_s, NOT_A_REP, base) for window_s in ranked[1:]]
    return (relabelled(moments, ranked[0], label, base), *none)


def anchors_of(moments: Moments, seed: int = 0) -> tuple[FloatArray, FloatArray]:
    """Choose moments of a film by chance: times (k,) and features (k, n_features)."""
    n = moments.time_s.size
    rows = np.sort(np.random.default_rng(seed).permutation(n)[:N_ANCHORS])
    return moments.time_s[rows], moments.features[rows]


def away_from(time_s: FloatArray, windows_s: Sequence[TimeSpan]) -> FloatArray:
    """(k,) whether an instant lies away from all windows."""
    away = np.ones(time_s.size, dtype=bool)
    for start_s, stop_s in windows_s:
        away &= (time_s < start_s - AWAY_S) | (time_s > stop_s + AWAY_S)
    return away


def same_reps(one: Correction, other: Correction) -> bool:
    """Whether two corrections are about the same reps: then the later one holds."""
    return one.clip == other.clip and any(
        min(a[1], b[1]) - max(a[0], b[0]) > 0.5 * min(a[1] - a[0], b[1] - b[0])
        for a in one.windows_s
        for b in other.windows_s
    )


def class_of(move: str) -> str:
    """Class of the classifier for a move as a person names it: ``unknown`` is outside all moves."""
    return OTHER if move == "unknown" else move


def _rep_probability(moments: Moments, base: MoveClassifier) -> FloatArray:
    none = base.probabilities(moments.features)[:, base.classes.index(NOT_A_REP)]
    return np.asarray(1.0 - none)


def _inside(moments: Moments, window_s: TimeSpan) -> FloatArray:
    start_s, stop_s = window_s
    return np.asarray((moments.time_s >= start_s - NEAR_S) & (moments.time_s <= stop_s + NEAR_S))


def _key(moments: Moments, window_s: TimeSpan, base: MoveClassifier) -> int:
    """Row of the moment in a window that is likeliest a rep's."""
    inside = _inside(moments, window_s)
    if not inside.any():
        start_s, stop_s = window_s
        raise CorrectionError.of("nothing_goes_on", start=start_s, stop=stop_s)
    rep = np.where(inside, _rep_probability(moments, base), -1.0)
    return int(np.argmax(rep))
