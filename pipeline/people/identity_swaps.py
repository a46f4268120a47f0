"""Cuts tracks where two people in contact were taken for one another, as their jerseys show."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from pipeline.core.arrays import runs
from pipeline.core.types import FloatArray
from pipeline.people.body import colour_distance
from pipeline.people.track import PersonTrack

OTHER_COLOUR = 25.0
"""A jersey that changed by more over a contact, of some 300, may be another one."""

NEARER = 0.5
"""It is another's when it is nearer to the other's colour than to the one before by this factor."""

N_FRAMES_TELL = 4
N_FRAMES_LOOKED_AT = 30
"""A colour is the median over so many frames in which no other body was in the way."""


def cut_at_exchanges(tracks: list[PersonTrack]) -> list[PersonTrack]:
    """Cut each track where it went over to another person's body.

    Two bodies in contact can be taken for one another by their place and posture. Once they are
    apart again, the jerseys tell: a track that wears another's colour after a contact is cut
    there, and its pieces can be joined to whom they belong to.

    Parameters
    ----------
    tracks
        Everyone who was followed.

    Returns
    -------
    list of PersonTrack
        The same frames, in more pieces where somebody was exchanged.
    """
    pieces: list[PersonTrack] = []
    for track in tracks:
        others = [other for other in tracks if other is not track]
        found = _exchange_frames(track, others)
        if not found:
            pieces.append(track)  # not a copy of it: a track of a long film is large
            continue
        edges = [0, *found, int(track.frames[-1]) + 1]
        for first, stop in pairwise(edges):
            piece = track.between(first, stop)
            if piece.frames.size:
                pieces.append(piece)
    return pieces


def _exchange_frames(track: PersonTrack, others: list[PersonTrack]) -> list[int]:
    """Frames from which a track shows another person than before."""
    found: list[int] = []
    clear = [run for run in runs(track.clear) if run[1] - run[0] >= N_FRAMES_TELL]
    for (start, stop), (again, end) in pairwise(clear):
        before = _colour(track, slice(max(start, stop - N_FRAMES_LOOKED_AT), stop))
        after = _colour(track, slice(again, min(end, again + N_FRAMES_LOOKED_AT)))
        change = colour_distance(after, before)
        if change < OTHER_COLOUR:
            continue
        contact = int(track.frames[stop])
        rivals = [
            colour for other in others if (colour := _colour_before(other, contact)) is not None
        ]
        if any(colour_distance(after, colour) < NEARER * change for colour in rivals):
            row = stop + _change_row(track.colours[stop:again], before, after)
            found.append(int(track.frames[row]))
    return found


def _colour(track: PersonTrack, rows: slice) -> FloatArray:
    return np.asarray(np.median(track.colours[rows], axis=0))


def _colour_before(track: PersonTrack, frame: int) -> FloatArray | None:
    """Colour of someone's jersey when last seen clearly before a frame."""
    rows = np.flatnonzero(track.clear & (track.frames < frame))[-N_FRAMES_LOOKED_AT:]
    return np.asarray(np.median(track.colours[rows], axis=0)) if rows.size else None


def _change_row(colours: FloatArray, before: FloatArray, after: FloatArray) -> int:
    """Row at which a run of colours goes over best from one to another."""
    as_before = np.array([colour_distance(colour, before) for colour in colours])
    as_after = np.array([colour_distance(colour, after) for colour in colours])
    misfit = [as_before[:row].sum() + as_after[row:].sum() for row in range(len(colours) + 1)]
    return int(np.argmin(misfit))
