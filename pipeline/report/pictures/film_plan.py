"""Plans an output film: each rep at true speed, then its key event in slow motion."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from pipeline.core.results import RepResult
from pipeline.core.types import FloatArray, IndexArray
from pipeline.report.pictures.key_frames import key_time_s

AROUND_REP_S = 1.5
"""Time shown before and after a rep."""

SLOW_AROUND_S = 0.5
"""Time shown in slow motion before and after the key event."""

SLOWER = 4
"""Factor of the slow motion."""

MOST_PER_S = 60.0
"""Greatest number of written frames per second: more only make the film heavy to play."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmPart:
    """A run of frames shown at one speed.

    Attributes
    ----------
    frames
        (n,) frame numbers, rising.
    shown_s
        (n,) time of each in the output film.
    slow
        Whether this is the slow-motion repeat.
    result
        Its rep; None between reps.
    """

    frames: IndexArray
    shown_s: FloatArray
    slow: bool
    result: RepResult | None


def plan_film(time_s: FloatArray, reps: Sequence[RepResult], *, whole: bool) -> list[FilmPart]:
    """Plan the film: each rep at true speed, followed by its key event in slow motion.

    No instant is shown twice at true speed: the time between two close reps is split in its middle.

    Parameters
    ----------
    time_s
        (n_frames,) times of the clip's frames.
    reps
        In the order of the clip.
    whole
        Whether to show the time between reps too.

    Returns
    -------
    list of FilmPart
        In the order of the film.
    """
    parts: list[FilmPart] = []
    clock_s = 0.0
    for start_s, stop_s, result in _stretches(time_s, reps, whole=whole):
        true = _shown(time_s, start_s, stop_s, clock_s, 1.0)
        if true is None:
            continue
        parts.append(FilmPart(frames=true[0], shown_s=true[1], slow=False, result=result))
        clock_s = true[2]
        if result is None:
            continue
        key_s = key_time_s(result, time_s)
        slow = _shown(time_s, key_s - SLOW_AROUND_S, key_s + SLOW_AROUND_S, clock_s, float(SLOWER))
        if slow is not None:
            parts.append(FilmPart(frames=slow[0], shown_s=slow[1], slow=True, result=result))
            clock_s = slow[2]
    return parts


def _stretches(
    time_s: FloatArray, reps: Sequence[RepResult], *, whole: bool
) -> Iterator[tuple[float, float, RepResult | None]]:
    """Yield start, stop (excluded) and rep of each stretch at true speed, without overlap."""
    end_s = float(time_s[-1]) + 1e-6 if time_s.size else 0.0
    shown_until_s = 0.0
    for number, result in enumerate(reps):
        start_s = max(result.rep.start_s - AROUND_REP_S, shown_until_s)
        stop_s = min(result.rep.stop_s + AROUND_REP_S, end_s)
        if number + 1 < len(reps):
            middle_s = 0.5 * (result.rep.stop_s + reps[number + 1].rep.start_s)
            stop_s = min(stop_s, middle_s)
        stop_s = max(stop_s, start_s)
        if whole and start_s > shown_until_s:
            start_s = shown_until_s  # the time before a rep belongs to its stretch
        yield start_s, stop_s, result
        shown_until_s = stop_s
    if whole and shown_until_s < end_s:
        yield shown_until_s, end_s, None


def _shown(
    time_s: FloatArray, start_s: float, stop_s: float, clock_s: float, slower: float
) -> tuple[IndexArray, FloatArray, float] | None:
    """Return the frames of a stretch, their times in the film, and the next stretch's start."""
    first, stop = np.searchsorted(time_s, [start_s - 1e-9, stop_s - 1e-9]).tolist()
    if first >= stop:
        return None
    frames = thinned(time_s, np.arange(first, stop), MOST_PER_S * slower)
    shown_s = clock_s + slower * (time_s[frames] - time_s[frames[0]])
    last = int(frames[-1])
    step_s = (
        float(time_s[last + 1] - time_s[last]) if last + 1 < time_s.size else usual_step_s(time_s)
    )
    return frames, shown_s, float(shown_s[-1]) + slower * min(step_s, 2.0 * usual_step_s(time_s))


def thinned(time_s: FloatArray, frames: IndexArray, most_per_s: float) -> IndexArray:
    """Drop frames evenly until at most `most_per_s` frames per second are left.

    Parameters
    ----------
    time_s
        (n_frames,) times of all frames.
    frames
        Frame numbers, rising; the first one stays.
    most_per_s
        Frames per second of clip time. A frame up to an eighth of a period early stays, because
        frame rates are uneven.

    Examples
    --------
    >>> import numpy as np
    >>> thinned(np.arange(9) / 240, np.arange(9), 60.0).tolist()
    [0, 4, 8]
    """
    selected: list[int] = []
    due_s = -np.inf
    for frame in frames.tolist():
        now_s = float(time_s[frame])
        if now_s >= due_s - 0.125 / most_per_s:
            selected.append(frame)
            # Counted from the due time, or each early frame would raise the rate.
            late = now_s - due_s > 0.5 / most_per_s
            due_s = (now_s if late else due_s) + 1.0 / most_per_s
    return np.asarray(selected, np.int64)


def usual_step_s(time_s: FloatArray) -> float:
    """Return the median time from one frame to the next; 1/30 s for a single frame."""
    return float(np.median(np.diff(time_s))) if time_s.size > 1 else 1.0 / 30.0
