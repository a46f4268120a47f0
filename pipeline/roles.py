"""Says who is the athlete and who the defender, and joins the pieces of one person's track."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.bodies import ANKLES, HIPS, KNEES, NOSE, SHOULDERS, TRUNK, WRISTS, colour_distance
from pipeline.pose import N_LANDMARKS
from pipeline.raw_track import RawTrack
from pipeline.types import FloatArray, Tracks

IndexArray = npt.NDArray[np.int64]

SOON_S = 1.5
"""A track that begins so soon after another ended must also begin near its end to be joined."""
NEARBY_LENGTHS = 2.5
"""How near, in body lengths."""
ALIKE_COLOUR = 45.0
"""Jerseys that differ by less, of 255, may be one."""
ALIKE_SIZE = 1.6
BRIEF_SHARE = 0.2
"""Someone followed in a smaller part of the film than this passes by, unless near."""
SMALL_SHARE = 0.5
"""Someone smaller than this part of the athlete's size in the picture stands far off."""
NEAR_LENGTHS = 1.5
"""Someone who comes this near to the athlete, in body lengths, takes part."""


@dataclass(frozen=True, slots=True, eq=False)
class _Track:
    """One person's track, perhaps joined from pieces.

    Attributes
    ----------
    frames
        (n_found,) indices of the frames in which the person was found, rising.
    rows
        (n_found, 33, 6) as from `RawTrack.rows`.
    overlapped
        Indices of frames, in any order.
    colour
        (3,) of the jersey.
    length_px
        Median length of the body in the picture, as in `bodies.length_px`.
    """

    frames: IndexArray
    rows: FloatArray
    overlapped: IndexArray
    colour: FloatArray
    length_px: float

    @classmethod
    def of(cls, track: RawTrack) -> _Track:
        rows = track.rows()
        return cls(
            np.asarray(track.frames, np.int64),
            rows,
            np.asarray(track.overlapped, np.int64),
            track.colour,
            _length_px(rows[:, :, :2]),
        )

    def joined_to(self, later: _Track) -> _Track:
        """Return this track with one that begins after it ended."""
        return _Track(
            np.concatenate([self.frames, later.frames]),
            np.concatenate([self.rows, later.rows]),
            np.concatenate([self.overlapped, later.overlapped]),
            self.colour,
            self.length_px if self.frames.size > later.frames.size else later.length_px,
        )

    def places_px(self, rows: IndexArray | slice) -> FloatArray:
        """(n, 2) middle of the trunk in some of the rows."""
        return np.asarray(self.rows[rows][:, TRUNK, :2].mean(axis=1))


def _length_px(points: FloatArray) -> float:
    shoulders, hips = points[:, SHOULDERS].mean(axis=1), points[:, HIPS].mean(axis=1)
    legs = np.linalg.norm(points[:, KNEES] - points[:, HIPS], axis=2) + np.linalg.norm(
        points[:, ANKLES] - points[:, KNEES], axis=2
    )
    head = np.linalg.norm(points[:, NOSE] - shoulders, axis=1)
    trunk = np.linalg.norm(shoulders - hips, axis=1)
    return float(np.median(1.3 * head + trunk + legs.max(axis=1)))


def choose_roles(
    tracks: list[RawTrack],
    time_s: FloatArray,
    *,
    athlete_at: tuple[float, float] | None = None,
) -> Tracks:
    """Put the athlete first and the defender, if there is one, second; leave out everyone else.

    The athlete is the one who moves most, hands and feet together, or who was nearest to a given
    point. The defender is the one of the others who comes nearest to the athlete. People who were
    followed only briefly and never near, or who are much smaller, are passers-by.

    Parameters
    ----------
    tracks
        Everyone who was followed.
    time_s
        (n_frames,) times.
    athlete_at
        (x, y) px of the athlete when first seen.

    Returns
    -------
    Tracks
        One or two people. If nobody was found, one person who is missing in every frame.
    """
    n_frames = time_s.size
    joined = _join([_Track.of(track) for track in tracks if track.frames], time_s)
    if not joined:
        return _as_tracks([], n_frames)
    if athlete_at is not None:
        at_first = [track for track in joined if time_s[track.frames[0]] < 1.0] or joined
        athlete = min(at_first, key=lambda track: _first_distance_px(track, athlete_at))
    else:
        athlete = max(
            joined,
            key=lambda track: (
                movement(track.rows, time_s[track.frames]) * (track.frames.size / n_frames)
            ),
        )
    others = [
        track for track in joined if track is not athlete and _takes_part(track, athlete, n_frames)
    ]
    others.sort(key=lambda track: _nearness(track, athlete))
    return _as_tracks([athlete, *others[:1]], n_frames)


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
    steps_s = np.diff(time_s)
    size = max(_length_px(points), 1.0)
    hips = points[:, HIPS].mean(axis=1)
    hands = points[:, WRISTS].mean(axis=1) - hips
    apart = float(np.median(np.linalg.norm(points[:, WRISTS[0]] - points[:, WRISTS[1]], axis=1)))
    together = 1.0 / (1.0 + (apart / (0.35 * size)) ** 2)
    hand_speed = np.linalg.norm(np.diff(hands, axis=0), axis=1) / steps_s / size
    speed = np.linalg.norm(np.diff(hips, axis=0), axis=1) / steps_s / size
    return float(np.percentile(speed, 75) + together * np.percentile(hand_speed, 95))


def _join(tracks: list[_Track], time_s: FloatArray) -> list[_Track]:
    """Join tracks that follow each other and can be one person's."""
    joined: list[_Track] = []
    for track in sorted(tracks, key=lambda t: int(t.frames[0])):
        earlier = [i for i, other in enumerate(joined) if _continues(other, track, time_s)]
        if not earlier:
            joined.append(track)
            continue
        # Of several who could come back, the one whose jersey is most alike.
        best = min(earlier, key=lambda i: colour_distance(joined[i].colour, track.colour))
        joined[best] = joined[best].joined_to(track)
    return joined


def _continues(earlier: _Track, later: _Track, time_s: FloatArray) -> bool:
    """Tell whether a track can be the same person's as one that ended before it began."""
    last, first = earlier.frames[-1], later.frames[0]
    if first <= last:
        return False
    if colour_distance(earlier.colour, later.colour) > ALIKE_COLOUR:
        return False
    if not 1 / ALIKE_SIZE < later.length_px / earlier.length_px < ALIKE_SIZE:
        return False
    if time_s[first] - time_s[last] > SOON_S:
        return True
    away_px = np.linalg.norm(later.places_px(slice(1)) - earlier.places_px(slice(-1, None)))
    return bool(away_px < NEARBY_LENGTHS * earlier.length_px)


def _first_distance_px(track: _Track, point: tuple[float, float]) -> float:
    return float(np.linalg.norm(track.places_px(slice(1))[0] - np.asarray(point)))


def _nearness(track: _Track, athlete: _Track) -> float:
    """Return how near someone comes to the athlete, in body lengths; infinite if never together."""
    both, mine, theirs = np.intersect1d(
        track.frames, athlete.frames, assume_unique=True, return_indices=True
    )
    if not both.size:
        return float("inf")
    apart = np.linalg.norm(track.places_px(mine) - athlete.places_px(theirs), axis=1)
    return float(np.percentile(apart, 5)) / athlete.length_px


def _takes_part(track: _Track, athlete: _Track, n_frames: int) -> bool:
    """Tell a player from a passer-by."""
    if track.length_px < SMALL_SHARE * athlete.length_px:
        return False
    near = _nearness(track, athlete) < NEAR_LENGTHS and track.frames.size >= 10
    return bool(near or track.frames.size >= BRIEF_SHARE * n_frames)


def _as_tracks(people: list[_Track], n_frames: int) -> Tracks:
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
    )
