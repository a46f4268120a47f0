"""What the film check says of a film's frame rate: how many, how even, and what it allows."""

from __future__ import annotations

import numpy as np

from pipeline.core.messages import message
from pipeline.core.move_table import MOVE_INFO
from pipeline.film.sampling import FilmClock
from pipeline.film_check.finding import FilmVerdict, Finding, keys_of, verdict_of
from pipeline.measures import MEASURES

GOOD_RATE_HZ, LEAST_RATE_HZ = 50.0, 20.0
"""Phones film at 30, 60 or more. On rendered clips instants came out within 1 to 2 frames; at 20 a
throw of 0.2 s shows in 4 pictures. Common practice, no source."""
FAST_HAND_MPS = 15.0
"""A quick hand in a throw."""
LONG_STEP = 1.5
"""A step longer than so many usual ones leaves a picture out."""
UNEVEN_SHARE = 0.05


def judge_rate(clock: FilmClock, move: str | None, true_fps: float | None = None) -> Finding:
    """Say what the frame rate allows.

    Parameters
    ----------
    clock
        Times of the pictures.
    move
        Key of the move, if it was said.
    true_fps
        Rate of filming, where the file plays slowly.
    """
    steps = np.diff(clock.time_s)
    if not steps.size:
        return Finding("frame_rate", "not told", message("check.one_picture"))
    usual_s = float(np.median(steps))
    rate_hz = true_fps or 1.0 / usual_s
    left_out = float((steps > LONG_STEP * usual_s).mean())
    throws = move is None or MOVE_INFO[move].throws
    hand: str = ""
    if throws:
        hand = message("check.rate_hand", speed=FAST_HAND_MPS, way=FAST_HAND_MPS / rate_hz)
    verdict: FilmVerdict = verdict_of(rate_hz, better=GOOD_RATE_HZ, enough=LEAST_RATE_HZ)
    advice: str = ""
    if verdict != "fine":
        advice = message("check.film_faster_short" if throws else "check.film_faster")
    elif left_out > UNEVEN_SHARE:
        verdict = "could be better"
    uneven: str = ""
    if left_out > UNEVEN_SHARE:
        uneven = message("check.rate_uneven", share=left_out)
        advice = advice or message("check.free_storage")
    said = message("check.rate", rate=rate_hz, instant=1000.0 / rate_hz, hand=hand, uneven=uneven)
    if verdict == "fine":
        return Finding("frame_rate", "fine", said)
    timed = tuple(key for key in keys_of(move) if MEASURES[key].depends_on_time)
    lost = timed if verdict == "will not do" else ()
    return Finding("frame_rate", verdict, said, advice, missing=lost, unsure=() if lost else timed)
