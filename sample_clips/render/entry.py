"""What one entry of the table of clips holds: player, order, place of the phone, picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .dress import CELLS_M
from .hardships import Hardship
from .moves.common import Order, direction
from .people import Person

_CENTRE_AHEAD_M = {"high_to_low_shot": 0.3, "throwback_pass": 1.7, "close_gap_dodge": 3.9}
"""How far ahead of the athlete's first place the middle of the action lies."""


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """Where the phone stands, seen from the middle of the action.

    Attributes
    ----------
    around_deg : float
        0: ahead of the athlete, who comes towards the phone; 90: on his left; 180: behind him.
    distance_m : float
    height_m : float
    aim_height_m : float
        Height above the middle of the action that the picture's middle shows.
    fov_deg : float
        Over the longer side of the picture.
    roll_deg : float
    """

    around_deg: float
    distance_m: float
    height_m: float = 1.35
    aim_height_m: float = 0.85
    fov_deg: float = 65.0
    roll_deg: float = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipEntry:
    """All that decides one clip; everything in it is invented."""

    name: str
    move: str
    level: str
    athlete: Person
    order: Order
    view: View
    defender: Person | None = None
    fps: int = 30
    size_px: tuple[int, int] = (1280, 720)
    goal: bool = True
    crease: bool = True
    sun: tuple[float, float, float] = (-0.5, -0.4, 0.8)
    grass: tuple[int, int, int] = (62, 118, 84)
    blur: bool = True
    noise: float = 1.6
    cells_m: tuple[float, float] = CELLS_M
    crf: int = 23
    uneven_times: bool = False
    hardship: Hardship | None = None
    centre_from_place_m: tuple[float, float] | None = None
    """Middle of the action, ahead and to the left of the first place; else by the move."""

    def centre_m(self) -> tuple[float, float]:
        """Return the middle of the action on the ground, field frame."""
        yaw = float(np.deg2rad(self.order.yaw_deg))
        ahead_m, left_m = self.centre_from_place_m or (_CENTRE_AHEAD_M[self.move], 0.0)
        spot = np.asarray(self.order.place_m) + ahead_m * direction(yaw)
        spot = spot + left_m * direction(yaw + np.pi / 2)
        return float(spot[0]), float(spot[1])

    def camera_m(self) -> tuple[float, float, float]:
        """Return the place of the phone, field frame."""
        x, y = self.centre_m()
        out = direction(float(np.deg2rad(self.order.yaw_deg + self.view.around_deg)))
        spot = np.round(np.array([x, y]) + self.view.distance_m * out, 2)
        return float(spot[0]), float(spot[1]), self.view.height_m

    def cones_m(self) -> tuple[tuple[float, float], ...]:
        """Return four cones round the action, two near and two far, on a grid of 0.5 m."""
        x, y = self.centre_m()
        out = direction(float(np.deg2rad(self.order.yaw_deg + self.view.around_deg)))
        side = np.array([-out[1], out[0]])
        near = 0.42 * self.view.distance_m
        wide = 0.40 * (self.view.distance_m - near)
        far = 3.0
        spots = [
            np.array([x, y]) + out * a + side * b
            for a, b in ((near, wide), (near, -wide), (-far, 3.6), (-far, -3.2))
        ]
        return tuple((float(round(2 * s[0]) / 2), float(round(2 * s[1]) / 2)) for s in spots)
