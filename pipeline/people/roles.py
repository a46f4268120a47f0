"""Decides who is the athlete and who the defender, and undoes swaps of two people."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from pipeline.core.spline import runs, spline_smooth
from pipeline.core.types import BoolArray, FloatArray, Tracks
from pipeline.people.body import HIPS, WRISTS, colour_distance
from pipeline.people.pose_model import N_LANDMARKS
from pipeline.people.track import PersonTrack, RawTrack, median_length_px

OTHER_COLOUR = 25.0
"""A jersey that changed by more over a contact, of some 300, may be another one."""

NEARER = 0.5
"""It is another's when it is nearer to the other's colour than to the one before by this factor."""

N_FRAMES_TELL = 4
N_FRAMES_LOOKED_AT = 30
"""A colour is the median over so many frames in which no other body was in the way."""


def cut_at_identity_swaps(tracks: list[PersonTrack]) -> list[PersonTrack]:
    """Cut each track where it went over to another person's body.

    Two bodies in contact can be confused by their place and posture. Once they are
    apart again, the jerseys decide: a track that wears another's colour after a contact is cut
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


SOON_S = 1.5
"""A track that begins so soon after another ended must also begin near its end to be joined."""
BOTH_S = 0.2
"""Tracks may overlap by this much where one went over to the other's body in contact."""
NEARBY_LENGTHS = 2.5
"""How near, in body lengths."""
ALIKE_COLOUR = 45.0
"""Jerseys that differ by less, of 255, may be one."""
ALIKE_SIZE = 1.6
BRIEF_SHARE = 0.2
"""Someone followed in a smaller part of the film than this passes by, unless near."""
SMALL_SHARE = 0.5
"""Someone smaller than this part of the athlete's size in the picture stands far off."""
PIECE_SHARE = 0.1
"""A track shorter than this part of another's may be a mix of two bodies in contact: it is the
defender only when there is no other."""
THROUGH_LENGTHS, STRAIGHT_SHARE = 3.0, 0.8
STEADY, FASTEST_WALK = 1.4, 1.2
"""Who walks through the picture: how far in body lengths and how straight; the quickest quarter of
the steps against the middle one, and the pace in body lengths a second."""
STEADY_BELOW_HZ = 4.0
"""Movement is that of places smooth to this half-gain frequency: the pose model's jitter, large
against a small body, does not count, and a throw lasts 0.2 s or more."""
NEAR_LENGTHS = 1.5
"""Someone who comes this near to the athlete, in body lengths, takes part."""


def choose_roles(
    tracks: list[RawTrack],
    time_s: FloatArray,
    *,
    athlete_at: tuple[float, float] | None = None,
    computed: BoolArray | None = None,
) -> Tracks:
    """Put the athlete first and the defender, if there is one, second; leave out everyone else.

    The athlete is the one who moves most, hands and feet together, and does not just walk through
    the picture; or who was nearest to a given point. The defender is the one of the others who is
    near the athlete for longest, short pieces last. People who were followed only briefly and never
    near, or who are much smaller, are passers-by.

    Parameters
    ----------
    tracks
        Everyone who was followed.
    time_s
        (n_frames,) times.
    athlete_at
        (x, y) px of the athlete when first seen.
    computed
        (n_frames,) frames in which the pose model ran; None = all. People count as present, on a
        straight way, between two such frames in which they were found.

    Returns
    -------
    Tracks
        One or two people. If nobody was found, one person who is missing in every frame.
    """
    n_frames = time_s.size
    whole = [PersonTrack.of(track) for track in tracks if track.frames]
    if computed is None:
        return _as_tracks(_chosen(whole, time_s, athlete_at), n_frames)
    filled = [track.filled(computed) for track in whole]
    chosen = _as_tracks(_chosen(filled, time_s, athlete_at), n_frames)
    for values in (chosen.image_px, chosen.world_m, chosen.visibility):
        values[:, ~computed] = np.nan
    return replace(chosen, computed=computed)


def _chosen(
    whole: list[PersonTrack], time_s: FloatArray, athlete_at: tuple[float, float] | None
) -> list[PersonTrack]:
    """Athlete and defender among everyone who was followed, see `choose_roles`."""
    n_frames = time_s.size
    joined = _join(cut_at_identity_swaps(whole), time_s)
    if not joined:
        return []
    if athlete_at is not None:
        at_first = [track for track in joined if time_s[track.frames[0]] < 1.0] or joined
        athlete = min(at_first, key=lambda track: _first_distance_px(track, athlete_at))
    else:
        athlete = max(
            joined,
            key=lambda track: (
                not walks_through(track.rows, time_s[track.frames]),
                movement(track.rows, time_s[track.frames]) * (track.frames.size / n_frames),
            ),
        )
    others = [
        track for track in joined if track is not athlete and _takes_part(track, athlete, n_frames)
    ]
    longest = max((track.frames.size for track in others), default=0)
    others.sort(
        key=lambda track: (
            track.frames.size < PIECE_SHARE * longest,
            -_n_near(track, athlete),
            _nearness(track, athlete),
        )
    )
    return [athlete, *others[:1]]


def movement(rows: FloatArray, time_s: FloatArray) -> float:
    """Return how much someone moves, in body lengths a second.

    The speed of the place on the ground (its 75th percentile) plus the speed of the middle of both
    hands relative to the hips (its 95th: a throw is short), hands apart counting for less.

    Parameters
    ----------
    rows
        (n_found, 33, 6) as from `RawTrack.rows`.
    time_s
        (n_found,) their times.
    """
    if len(rows) < 5:
        return 0.0
    points = rows[:, :, :2]
    size = max(median_length_px(points), 1.0)
    hips = points[:, HIPS].mean(axis=1)
    hands = points[:, WRISTS].mean(axis=1) - hips
    both = spline_smooth(time_s, np.hstack([hips, hands]), np.ones(time_s.size), STEADY_BELOW_HZ)
    speed, hand_speed = (
        np.linalg.norm(np.gradient(both.reshape(-1, 2, 2), time_s, axis=0), axis=-1).T / size
    )
    apart = float(np.median(np.linalg.norm(points[:, WRISTS[0]] - points[:, WRISTS[1]], axis=1)))
    together = 1.0 / (1.0 + (apart / (0.35 * size)) ** 2)
    return float(np.percentile(speed, 75) + together * np.percentile(hand_speed, 95))


def walks_through(rows: FloatArray, time_s: FloatArray) -> bool:
    """Tell whether someone goes straight through the picture at the steady pace of a walk.

    Parameters
    ----------
    rows, time_s
        As for `movement`.
    """
    if len(rows) < 5:
        return False
    points = rows[:, :, :2]
    hips = points[:, HIPS].mean(axis=1) / max(median_length_px(points), 1.0)
    steps = np.linalg.norm(np.diff(hips, axis=0), axis=1)
    speed = steps / np.diff(time_s)
    way = float(np.linalg.norm(hips[-1] - hips[0]))
    usual, quick = np.percentile(speed, [50, 75])
    is_steady = quick < STEADY * usual and usual < FASTEST_WALK
    return bool(way > THROUGH_LENGTHS and way > STRAIGHT_SHARE * steps.sum() and is_steady)


def _join(tracks: list[PersonTrack], time_s: FloatArray) -> list[PersonTrack]:
    """Join tracks that follow each other and can be one person's."""
    joined: list[PersonTrack] = []
    for track in sorted(tracks, key=lambda t: int(t.frames[0])):
        earlier = [i for i, other in enumerate(joined) if _continues(other, track, time_s)]
        if not earlier:
            joined.append(track)
            continue
        # Of several who could come back, the one whose jersey is most alike.
        best = min(earlier, key=lambda i: colour_distance(joined[i].colour, track.colour))
        joined[best] = joined[best].joined_to(track)
    return joined


def _continues(earlier: PersonTrack, later: PersonTrack, time_s: FloatArray) -> bool:
    """Tell whether a track can be the same person's as one that ended before it began."""
    last, first = earlier.frames[-1], later.frames[0]
    if time_s[last] - time_s[first] > BOTH_S:
        return False
    if colour_distance(earlier.colour, later.colour) > ALIKE_COLOUR:
        return False
    if not 1 / ALIKE_SIZE < later.length_px / earlier.length_px < ALIKE_SIZE:
        return False
    if time_s[first] - time_s[last] > SOON_S:
        return True
    away_px = np.linalg.norm(later.places_px(slice(1)) - earlier.places_px(slice(-1, None)))
    return bool(away_px < NEARBY_LENGTHS * earlier.length_px)


def _first_distance_px(track: PersonTrack, point: tuple[float, float]) -> float:
    return float(np.linalg.norm(track.places_px(slice(1))[0] - np.asarray(point)))


def _apart_lengths(track: PersonTrack, athlete: PersonTrack) -> FloatArray:
    """Distances in frames in which both were followed, in body lengths of the athlete."""
    _, mine, theirs = np.intersect1d(
        track.frames, athlete.frames, assume_unique=True, return_indices=True
    )
    apart_px = np.linalg.norm(track.places_px(mine) - athlete.places_px(theirs), axis=1)
    return np.asarray(apart_px / athlete.length_px)


def _n_near(track: PersonTrack, athlete: PersonTrack) -> int:
    """Count the frames in which someone is near the athlete."""
    return int((_apart_lengths(track, athlete) < NEAR_LENGTHS).sum())


def _nearness(track: PersonTrack, athlete: PersonTrack) -> float:
    """Return how near someone comes to the athlete, in body lengths; infinite if never together."""
    apart = _apart_lengths(track, athlete)
    return float(np.percentile(apart, 5)) if apart.size else float("inf")


def _takes_part(track: PersonTrack, athlete: PersonTrack, n_frames: int) -> bool:
    """Tell a player from a passer-by."""
    if track.length_px < SMALL_SHARE * athlete.length_px:
        return False
    near = _nearness(track, athlete) < NEAR_LENGTHS and track.frames.size >= 10
    return bool(near or track.frames.size >= BRIEF_SHARE * n_frames)


def _as_tracks(people: list[PersonTrack], n_frames: int) -> Tracks:
    """Spread the tracks over all frames; without anyone, one person missing in all of them."""
    shape = (max(len(people), 1), n_frames)
    rows = np.full((*shape, N_LANDMARKS, 6), np.nan, np.float32)
    overlapped = np.zeros(shape, bool)
    for number, track in enumerate(people):
        rows[number, track.frames] = track.rows
        overlapped[number, track.overlapped] = True
    return Tracks(
        image_px=rows[..., :2],
        world_m=rows[..., 2:5],
        visibility=rows[..., 5],
        overlapped=overlapped,
        camera_shift_px=np.full((n_frames, 4, 2), np.nan, np.float32),
        camera_misfit_px=np.full(n_frames, np.nan, np.float32),
    )
