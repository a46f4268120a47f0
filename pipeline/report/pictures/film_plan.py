"""The shots of a film that people look at: each rep at true speed, then its key event slowly."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from pipeline.core.results import RepResult
from pipeline.core.types import FloatArray, IndexArray
from pipeline.report.pictures.key_frames import key_time_s

AROUND_REP_S = 1.5
"""What is shown before and after a rep."""

SLOW_AROUND_S = 0.5
"""What is shown slowly before and after the key event."""

SLOWER = 4
"""How many times slower."""

MOST_PER_S = 60.0
"""Pictures a second that are written at most: more only make the film heavy to play."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmPart:
    """A run of frames that is shown at one speed.

    Attributes
    ----------
    frames
        (n,) numbers of the frames that are shown, rising.
    shown_s
        (n,) when each is shown, from the start of the written film.
    slow
        Whether it is the slow repeat.
    result
        The rep that it belongs to; None for a stretch between reps.
    """

    frames: IndexArray
    shown_s: FloatArray
    slow: bool
    result: RepResult | None


def plan_film(time_s: FloatArray, reps: Sequence[RepResult], *, whole: bool) -> list[FilmPart]:
    """Lay out the film: around each rep at true speed, and after it the key event slowly.

    No instant is shown twice at true speed: what lies between two reps that are near each other is
    cut in its middle.

    Parameters
    ----------
    time_s
        (n_frames,) true times of the clip's frames.
    reps
        In the order of the clip.
    whole
        Whether to show what lies between reps too.

    Returns
    -------
    list of Shot
        In the order in which they are shown.
    """
    shots: list[FilmPart] = []
    clock_s = 0.0
    for start_s, stop_s, result in _stretches(time_s, reps, whole=whole):
        true = _shown(time_s, start_s, stop_s, clock_s, 1.0)
        if true is None:
            continue
        shots.append(FilmPart(frames=true[0], shown_s=true[1], slow=False, result=result))
        clock_s = true[2]
        if result is None:
            continue
        key_s = key_time_s(result, time_s)
        slow = _shown(time_s, key_s - SLOW_AROUND_S, key_s + SLOW_AROUND_S, clock_s, float(SLOWER))
        if slow is not None:
            shots.append(FilmPart(frames=slow[0], shown_s=slow[1], slow=True, result=result))
            clock_s = slow[2]
    return shots


def _stretches(
    time_s: FloatArray, reps: Sequence[RepResult], *, whole: bool
) -> Iterator[tuple[float, float, RepResult | None]]:
    """Start, stop (not included) and rep of each stretch at true speed, none over another."""
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
            start_s = shown_until_s  # what came before a rep belongs to its stretch
        yield start_s, stop_s, result
        shown_until_s = stop_s
    if whole and shown_until_s < end_s:
        yield shown_until_s, end_s, None


def _shown(
    time_s: FloatArray, start_s: float, stop_s: float, clock_s: float, slower: float
) -> tuple[IndexArray, FloatArray, float] | None:
    """Frames of a stretch, when each is shown, and when the next stretch may begin."""
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
    """Leave frames out so that no more than so many a second are left, evenly.

    Parameters
    ----------
    time_s
        (n_frames,) true times of all frames.
    frames
        Numbers of frames, rising; the first is kept.
    most_per_s
        Frames a second of true time; frames that come an eighth early are kept, for a rate is never
        quite even.

    Examples
    --------
    >>> import numpy as np
    >>> thinned(np.arange(9) / 240, np.arange(9), 60.0).tolist()
    [0, 4, 8]
    """
    kept: list[int] = []
    due_s = -np.inf
    for frame in frames.tolist():
        now_s = float(time_s[frame])
        if now_s >= due_s - 0.125 / most_per_s:
            kept.append(frame)
            # From when it was due, or the eighth would be gained each time.
            late = now_s - due_s > 0.5 / most_per_s
            due_s = (now_s if late else due_s) + 1.0 / most_per_s
    return np.asarray(kept, np.int64)


def usual_step_s(time_s: FloatArray) -> float:
    """Median time from one frame to the next; 1/30 s for a single frame."""
    return float(np.median(np.diff(time_s))) if time_s.size > 1 else 1.0 / 30.0
