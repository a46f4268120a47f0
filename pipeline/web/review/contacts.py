"""Feet that land and lift where a person says so."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pipeline.core.arrays import runs
from pipeline.core.types import BoolArray, FloatArray
from pipeline.web.review.rep_edits import FEET, RepEdit

JOINED_WITHIN_S = 0.3
SHORTEST_MARKED_S = 0.1
"""A contact within the first of these after a landing that was marked is the same contact; where
there is none, the foot is taken to stand for the second."""


def with_contacts(
    contact: BoolArray, landed: BoolArray, changes: Sequence[RepEdit], time_s: FloatArray
) -> tuple[BoolArray, BoolArray]:
    """Let feet land and lift where a person says they do.

    Parameters
    ----------
    contact, landed
        (n_frames, 2) by the picture.
    changes
        Those that stand; others than of feet are passed over.
    time_s
        (n_frames,).

    Returns
    -------
    tuple
        Copies of the two arrays.
    """
    contact, landed = contact.copy(), landed.copy()
    for change in changes:
        if change.kind not in ("lands", "lifts") or change.frame >= time_s.size:
            continue
        foot, frame = FEET.index(change.name), change.frame
        spans = runs(contact[:, foot])
        if change.kind == "lands":
            soon_s = time_s[frame] + JOINED_WITHIN_S
            same = [s for s in spans if s[1] > frame and time_s[s[0]] <= soon_s]
            stop = same[0][1] if same else int(
                np.searchsorted(time_s, time_s[frame] + SHORTEST_MARKED_S, side="right")
            )  # fmt: skip
            first = min(frame, same[0][0]) if same else frame
            contact[first:frame, foot] = False
            contact[frame:stop, foot] = True
            landed[first:stop, foot] = False
            landed[frame, foot] = True
        else:
            now = [s for s in spans if s[0] < frame]
            start = now[-1][0] if now else frame
            if now and now[-1][1] < frame and time_s[frame] - time_s[now[-1][1]] > JOINED_WITHIN_S:
                start = frame
            stop = next((s[1] for s in spans if s[0] <= frame < s[1]), frame)
            contact[start:frame, foot] = True
            contact[frame:stop, foot] = False
            landed[frame:stop, foot] = False
    return contact, landed
