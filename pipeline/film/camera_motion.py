"""Tells whether the camera stood still: how the background moved in small pictures of the film."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from calibration.turned_view import moved_points
from pipeline.core.messages import Message, message
from pipeline.core.types import FloatArray
from pipeline.film.background import (
    NO_MOVEMENT,
    Background,
    Movement,
    SmallPicture,
    body_boxes,
    small_picture,
)
from pipeline.film.container import Picture

CameraState = Literal["still", "steadied", "moved", "not told"]

EVERY_S = 0.25
"""A picture is looked at this often: a hand's shake and a pan last longer, a knock may not."""
CLOSELY_S = 1.0
"""A hand that holds a phone moves within this time: so long each frame is looked at."""
HAS_MOVED = 0.0015
"""A picture that moved by this share of its longer side is looked at on every frame from then on:
half of `MOST_IN_WINDOW`."""
OUT_OF_SIGHT = Movement(homography=np.full((3, 3), np.nan), misfit_px=np.nan)
ANCHOR_SHARES = ((0.25, 0.25), (0.75, 0.25), (0.25, 0.75), (0.75, 0.75))
"""Points at which the movement is measured, in parts of width and height: off the middle, so that
a turn or a zoom about the middle shows."""

AWAY_S = 2.0
"""A background that stays away for longer, while another one is seen well, will not come back."""

WINDOW_S = 5.0
"""About the span of a rep."""
MOST_IN_WINDOW = 0.003
MOST_IN_FILM = 0.01
"""How far the picture of a still camera may move, in parts of its longer side: inside a rep, and
over a whole film in which a phone may sink into the grass. What a stand does stays far below."""
FEWEST_KNOWN = 0.5
"""A camera is called still only if so many of the pictures that were sampled agree."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stillness:
    """Whether the camera stood still.

    Attributes
    ----------
    state
        "still", "moved", "steadied" when it moved and its picture was steadied by the background
        (`steady`), or "not told" when too little of the background could be followed.
    moved_px
        Largest movement of the picture that was seen, in px of the film: the diagonal of the box
        in which a place of the background moved about. Infinite when it moved further than could
        be followed, NaN when unknown.
    unsteady_px
        Standard deviation of what is left of the movement in a steadied picture, px.
    why_unsteady
        Name in the section ``[camera]`` of the catalogue of why the picture of a camera that moved
        could not be steadied; empty when nothing is known of it.
    """

    state: CameraState
    moved_px: float
    unsteady_px: float = 0.0
    why_unsteady: str = ""

    @property
    def words(self) -> Message:
        """What is known of the camera, as half a sentence."""
        if self.state == "still":
            return message("camera.still")
        if self.state == "not told":
            return message("camera.not_told")
        far = message("camera.far", moved=self.moved_px)
        if np.isinf(self.moved_px):
            far = message("camera.too_far")
        if self.state == "steadied":
            return message("camera.steadied", far=far)
        why: str = ""
        if self.why_unsteady:
            why = message("camera.and_why", why=message(f"camera.{self.why_unsteady}"))
        return message("camera.moved", far=far, why=why)


STILL = Stillness(state="still", moved_px=0.0)
"""A camera that is known to have stood still."""


def anchors_px(size_px: tuple[int, int]) -> FloatArray:
    """(4, 2) points at which the movement is measured, for a picture of that width and height."""
    return np.asarray(np.array(ANCHOR_SHARES) * size_px)


def judge_stillness(
    shift_px: FloatArray, time_s: FloatArray, size_px: tuple[int, int], *, every_s: float = EVERY_S
) -> Stillness:
    """Tell from the movement of the background whether the camera stood still.

    Parameters
    ----------
    shift_px
        (n_frames, 4, 2) as from `StillnessWatch.shift_px`.
    time_s
        (n_frames,) times.
    size_px
        Width and height of the picture.
    every_s
        How often a picture was looked at.

    Returns
    -------
    Stillness
    """
    looked = ~np.isnan(shift_px).any(axis=(1, 2))
    if not looked.any():
        return Stillness(state="not told", moved_px=float("nan"))
    places, times = np.asarray(shift_px[looked], float), time_s[looked]
    if not np.isfinite(places).all():
        return Stillness(state="moved", moved_px=float("inf"))
    in_window = 0.0
    for apart in range(1, len(places)):
        near = times[apart:] - times[:-apart] <= WINDOW_S
        if not near.any():
            break
        steps = np.linalg.norm(places[apart:] - places[:-apart], axis=-1)[near]
        in_window = max(in_window, float(steps.max()))
    in_film = float(np.linalg.norm(np.ptp(places, axis=0), axis=-1).max())
    side_px = max(size_px)
    if in_window > MOST_IN_WINDOW * side_px or in_film > MOST_IN_FILM * side_px:
        return Stillness(state="moved", moved_px=max(in_window, in_film))
    n_looks = (time_s[-1] - time_s[0]) / every_s
    if looked.sum() < FEWEST_KNOWN * n_looks:
        return Stillness(state="not told", moved_px=float("nan"))
    return Stillness(state="still", moved_px=max(in_window, in_film))


class StillnessWatch:
    """Follows the background through a film, holding two small pictures at most.

    Corners of the background are looked up in a reference picture and followed from it into each
    later one, so that small errors do not add up. What most of them do together is the movement
    of the camera; passers-by, shadows and moving grass are left in the minority.

    A camera that stands still is looked at every `EVERY_S`; in the first second, and once it has
    moved, on every frame, so that its picture can be steadied.
    """

    def __init__(self) -> None:
        self._reference: Background | None = None
        self._spare: Background | None = None
        """A later background, taken when that of the reference went out of sight."""
        self._spare_since_s = np.inf
        self._looked_s = -np.inf
        self._looked_at = -1
        self._has_moved = False
        self._looks: list[tuple[int, FloatArray, float]] = []

    def is_due(self, index: int, time_s: float) -> bool:
        """Whether to look at a frame: not twice, and not too often while all is still."""
        if index <= self._looked_at:
            return False
        closely = self._has_moved or time_s < CLOSELY_S
        return closely or time_s - self._looked_s >= EVERY_S - 1e-6

    def see(self, rgb: Picture, index: int, time_s: float, bodies_px: FloatArray) -> None:
        """Look at a frame, if it is time to.

        Parameters
        ----------
        rgb
            (height, width, 3) picture.
        index
            Number of the frame.
        time_s
            Its time.
        bodies_px
            (n_people, n_points, 2) landmarks of everyone who is followed, in the image frame.
        """
        if not self.is_due(index, time_s):
            return
        self._looked_s, self._looked_at = time_s, index
        small, scale = small_picture(rgb)
        bodies = body_boxes(bodies_px * scale)
        moved = self._follow(small, bodies, time_s)
        if moved is not None:
            anchors = anchors_px((small.shape[1], small.shape[0]))
            shift = moved_points(moved.homography, anchors) - anchors
            if moved is OUT_OF_SIGHT:
                shift = np.full_like(shift, np.inf)
            self._has_moved |= not np.abs(shift).max() < HAS_MOVED * max(small.shape)
            self._looks.append((index, shift / scale, moved.misfit_px / scale))

    def shift_px(self, n_frames: int) -> FloatArray:
        """Give how far the background had moved from where it was at first.

        Returns
        -------
        numpy.ndarray
            (n_frames, 4, 2) at four places of the picture (`anchors_px`), px of the film; NaN
            in frames that were not sampled or show too little, infinite where the background went
            away for good.
        """
        shifts = np.full((n_frames, len(ANCHOR_SHARES), 2), np.nan, np.float32)
        for index, shift, _ in self._looks:
            shifts[index] = shift
        return shifts

    def misfit_px(self, n_frames: int) -> FloatArray:
        """(n_frames,) how far the background was off that of a turning camera, px of the film."""
        misfits = np.full(n_frames, np.nan, np.float32)
        for index, _, misfit in self._looks:
            misfits[index] = misfit
        return misfits

    def _follow(self, small: SmallPicture, bodies: FloatArray, time_s: float) -> Movement | None:
        """Return the movement since the first picture; None when unknown."""
        if self._reference is None:
            self._reference = Background.of(small, bodies, NO_MOVEMENT)
            return None if self._reference is None else NO_MOVEMENT
        moved = self._reference.movement_to(small, bodies)
        if moved is not None:
            self._spare = None
            if self._reference.worn:
                self._reference = Background.of(small, bodies, moved) or self._reference
            return moved
        if self._spare is None or self._spare.movement_to(small, bodies) is None:
            self._spare = Background.of(small, bodies, self._reference.moved)
            self._spare_since_s = time_s
        elif time_s - self._spare_since_s >= AWAY_S:
            self._reference, self._spare = self._spare, None
            return OUT_OF_SIGHT
        return None
