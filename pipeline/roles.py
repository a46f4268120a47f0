"""Says who is the athlete and who the defender, and joins the pieces of one person's track."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.bodies import ANKLES, HIPS, KNEES, NOSE, SHOULDERS, TRUNK, WRISTS, colour_distance
from pipeline.pose import N_LANDMARKS
from pipeline.raw_track import RawTrack
from pipeline.types import BoolArray, FloatArray, Tracks

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


@dataclass(eq=False, slots=True)
class _Track:
    """One person's track, perhaps joined from pieces."""

    rows: FloatArray
    overlapped: BoolArray
    colour: FloatArray

    @property
    def found(self) -> BoolArray:
        return np.isfinite(self.rows[:, 0, 0])

    @property
    def places_px(self) -> FloatArray:
        """(n_frames, 2) middle of the trunk."""
        return np.asarray(self.rows[:, TRUNK, :2].mean(axis=1))

    @property
    def length_px(self) -> float:
        """Median length of the body in the picture, as in `bodies.length_px`."""
        points = self.rows[self.found][:, :, :2]
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
    joined = _join(
        [
            _Track(track.array(n_frames), track.overlapped(n_frames), track.colour)
            for track in tracks
            if track.frames
        ],
        time_s,
    )
    if not joined:
        return _as_tracks([_nobody(n_frames)])
    if athlete_at is not None:
        athlete = min(joined, key=lambda track: _first_distance(track, athlete_at))
    else:
        athlete = max(joined, key=lambda track: movement(track.rows, time_s))
    others = [track for track in joined if track is not athlete and _takes_part(track, athlete)]
    others.sort(key=lambda track: _nearness(track, athlete))
    return _as_tracks([athlete, *others[:1]])


def movement(rows: FloatArray, time_s: FloatArray) -> float:
    """Return how much someone moves, in body lengths a second, times the share of the film.

    The speed of the place on the ground (its 75th percentile) plus the speed of the middle of both
    hands relative to the hips (its 95th: a throw is short), hands apart counting for less.

    Parameters
    ----------
    rows
        (n_frames, 33, 6) as from `RawTrack.array`.
    time_s
        (n_frames,) times.
    """
    seen = np.flatnonzero(np.isfinite(rows[:, 0, 0]))
    if seen.size < 5:
        return 0.0
    points, times = rows[seen][:, :, :2], time_s[seen]
    steps_s = np.maximum(np.diff(times), 1e-3)
    size = float(np.median(np.ptp(points[:, :, 1], axis=1)))
    hips = points[:, HIPS].mean(axis=1)
    hands = points[:, WRISTS].mean(axis=1) - hips
    apart = float(np.median(np.linalg.norm(points[:, WRISTS[0]] - points[:, WRISTS[1]], axis=1)))
    together = 1.0 / (1.0 + (apart / (0.35 * size)) ** 2)
    hand_speed = np.linalg.norm(np.diff(hands, axis=0), axis=1) / steps_s / size
    speed = np.linalg.norm(np.diff(hips, axis=0), axis=1) / steps_s / size
    amount = np.percentile(speed, 75) + together * np.percentile(hand_speed, 95)
    return float(amount * seen.size / len(rows))


def _join(tracks: list[_Track], time_s: FloatArray) -> list[_Track]:
    """Join tracks that follow each other and can be one person's."""
    joined: list[_Track] = []
    for track in sorted(tracks, key=lambda t: int(np.argmax(t.found))):
        earlier = [other for other in joined if _continues(other, track, time_s)]
        if not earlier:
            joined.append(track)
            continue
        # Of several who could come back, the one whose jersey is most alike.
        best = min(earlier, key=lambda other: colour_distance(other.colour, track.colour))
        best.rows = np.where(track.found[:, None, None], track.rows, best.rows)
        best.overlapped = best.overlapped | track.overlapped
    return joined


def _continues(earlier: _Track, later: _Track, time_s: FloatArray) -> bool:
    """Tell whether a track can be the same person's as one that ended before it began."""
    last, first = int(np.flatnonzero(earlier.found)[-1]), int(np.argmax(later.found))
    if first <= last:
        return False
    ratio = later.length_px / earlier.length_px
    if colour_distance(earlier.colour, later.colour) > ALIKE_COLOUR:
        return False
    if not 1 / ALIKE_SIZE < ratio < ALIKE_SIZE:
        return False
    if time_s[first] - time_s[last] > SOON_S:
        return True
    away_px = np.linalg.norm(later.places_px[first] - earlier.places_px[last])
    return bool(away_px < NEARBY_LENGTHS * earlier.length_px)


def _first_distance(track: _Track, point: tuple[float, float]) -> float:
    return float(np.linalg.norm(track.places_px[int(np.argmax(track.found))] - np.asarray(point)))


def _nearness(track: _Track, athlete: _Track) -> float:
    """Return how near someone comes to the athlete, in body lengths; infinite if never together."""
    both = track.found & athlete.found
    if not both.any():
        return float("inf")
    apart = np.linalg.norm(track.places_px[both] - athlete.places_px[both], axis=1)
    return float(np.percentile(apart, 5)) / athlete.length_px


def _takes_part(track: _Track, athlete: _Track) -> bool:
    """Tell a player from a passer-by."""
    if track.length_px < SMALL_SHARE * athlete.length_px:
        return False
    near = _nearness(track, athlete) < NEAR_LENGTHS and track.found.sum() >= 10
    return bool(near or track.found.mean() >= BRIEF_SHARE)


def _nobody(n_frames: int) -> _Track:
    rows = np.full((n_frames, N_LANDMARKS, 6), np.nan, np.float32)
    return _Track(rows, np.zeros(n_frames, bool), np.zeros(3))


def _as_tracks(people: list[_Track]) -> Tracks:
    rows = np.stack([track.rows for track in people])
    return Tracks(
        image_px=rows[..., :2],
        world_m=rows[..., 2:5],
        visibility=rows[..., 5],
        overlapped=np.stack([track.overlapped for track in people]),
    )
