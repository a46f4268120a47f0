"""Finds the reps of a long film and names their moves, without a given move."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from models.moves.classifier import NOT_A_REP, OTHER, MoveClassifier
from pipeline.core.move_table import MOVE_INFO
from pipeline.core.types import Hand, Motion, Rep
from pipeline.moves.events import FINISH_SPREAD_S, START_SPREAD_S, Burst, event_at, quiet_frames
from pipeline.moves.finders import FINDERS
from pipeline.moves.naming.candidates import Candidate, find_moments
from pipeline.moves.signals import Signals, signals_of
from pipeline.moves.throw_detection import throwing_speed

REFINED_S = 0.2
"""A throw's burst is looked for this far from its moment."""

REST_S = 1.0
"""A rep may reach this much further than the classifier estimates."""


def find_all_reps(
    athlete: Motion,
    defender: Motion | None = None,
    given_hand: Hand | None = None,
    *,
    classifier: MoveClassifier | None = None,
) -> list[Rep]:
    """Find all reps of a film, whatever their moves.

    Parameters
    ----------
    athlete, defender
        Best-estimate motions over the whole film; the defender may be None.
    given_hand
        Top hand if known.
    classifier
        The shipped one if None.

    Returns
    -------
    list of Rep
        In order, numbered from 1; those of which the move is not sure are called ``unknown``.
    """
    signals = signals_of(athlete)
    other = None if defender is None else signals_of(defender)
    found = find_moments(athlete, signals, other, given_hand, classifier=classifier)
    return _reps(signals, other, found, given_hand)


def _reps(
    athlete: Signals, defender: Signals | None, found: list[Candidate], given_hand: Hand | None
) -> list[Rep]:
    """Make a rep of each moment; none reaches into the one before it."""
    time_s = athlete.time_s
    frames = [int(np.argmin(np.abs(time_s - one.time_s))) for one in found]
    reps: list[Rep] = []
    earliest = 0
    for number, one in enumerate(found):
        latest = frames[number + 1] if number + 1 < len(found) else time_s.size
        hand: Hand = given_hand or ("right" if one.right else "left")
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


def _rep(athlete: Signals, defender: Signals | None, one: Candidate, burst: Burst) -> Rep:
    """Make the rep by its move's own events, or by rest before and after it."""
    likeliest = max(
        (key for key in one.probabilities if key not in (NOT_A_REP, OTHER)),
        key=lambda key: one.probabilities[key],
    )
    throws = MOVE_INFO[likeliest].throws
    refined = replace(burst, frame=_refined(athlete, burst, throws=throws))
    if one.move in FINDERS:
        return FINDERS[one.move].rep_of(athlete, defender, refined)
    return _by_reach(athlete, one, refined)


def _refined(athlete: Signals, burst: Burst, *, throws: bool) -> int:
    """Frame of the greatest speed of the top hand to the front and down, near a throw's moment."""
    if not throws:
        return burst.frame
    near = np.abs(athlete.time_s - athlete.time_s[burst.frame]) <= REFINED_S
    speed = throwing_speed(athlete)[:, 0 if burst.hand == "left" else 1]
    speed = np.where(near & np.isfinite(speed), speed, -np.inf)
    return int(np.argmax(speed)) if np.isfinite(speed).any() else burst.frame


def _by_reach(athlete: Signals, one: Candidate, burst: Burst) -> Rep:
    """Make a rep that reaches as far as the classifier estimates, or to the rest beside that."""
    time_s, quiet = athlete.time_s, quiet_frames(athlete)
    start_s = float(np.clip(one.start_s, time_s[burst.earliest], time_s[burst.frame]))
    stop_s = float(np.clip(one.stop_s, time_s[burst.frame], time_s[burst.latest - 1]))
    first, last = (int(np.searchsorted(time_s, instant_s)) for instant_s in (start_s, stop_s))
    before = np.flatnonzero(quiet[burst.earliest : first + 1])
    after = np.flatnonzero(quiet[last : burst.latest])
    if before.size:
        start_s = float(time_s[burst.earliest + before[-1]])
    if after.size:
        stop_s = float(time_s[last + after[0]])
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
