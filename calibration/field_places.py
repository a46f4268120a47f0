"""Places on a lacrosse field that are the same everywhere: points of a goal, points of its crease.

The frame is that of someone at the phone: x to the right, y away from the phone, z up, and the
middle between the posts at 0, 0. So it holds for a phone on either side of the goal.

References
----------
.. [1] NCAA, *Men's Lacrosse Rules*, rule 1, section 3: a goal of 6 by 6 feet inside its pipes, a
   crease with a radius of 9 feet. The pipes are 1 1/2 inch pipes, 1.90 inches across.
.. [2] US Lacrosse, chart of the rules for girls' youth play: small goals of 3 by 3 and 4 by 4
   feet, a goal circle with a radius of 8.5 feet.
"""

from __future__ import annotations

from dataclasses import dataclass

FOOT_M = 0.3048
PIPE_RADIUS_M = 0.5 * 1.90 * 0.0254
GOAL_U_M = 0.02
CREASE_U_M = 0.05
"""Painted by hand, and its outermost points are not sharp."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownPlace:
    """A place on the field.

    Attributes
    ----------
    name
        As marks call it; what people read stands under it in the catalogue of texts.
    field_m
        (x, y, z).
    u_m
        Standard uncertainty of each coordinate.
    """

    name: str
    field_m: tuple[float, float, float]
    u_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GoalSize:
    """A goal as it is sold.

    Attributes
    ----------
    width_m, height_m
        Inside the pipes.
    """

    width_m: float
    height_m: float


GOAL_SIZES = {
    "6x6": GoalSize(width_m=6 * FOOT_M, height_m=6 * FOOT_M),
    "4x4": GoalSize(width_m=4 * FOOT_M, height_m=4 * FOOT_M),
    "3x3": GoalSize(width_m=3 * FOOT_M, height_m=3 * FOOT_M),
    "box": GoalSize(width_m=4.75 * FOOT_M, height_m=4 * FOOT_M),
}

CREASE_RADII_M = {"9 ft (men, boys)": 2.7432, "8.5 ft (women, girls)": 2.5908}


def goal_places(size: GoalSize) -> tuple[KnownPlace, ...]:
    """Feet of the posts and ends of the crossbar, on the middle lines of the pipes."""
    half_m = round(0.5 * size.width_m + PIPE_RADIUS_M, 4)
    top_m = round(size.height_m + PIPE_RADIUS_M, 4)
    return tuple(
        KnownPlace(
            name=f"goal_{side}_{part}",
            field_m=(x_m, 0.0, z_m),
            u_m=GOAL_U_M,
        )
        for part, z_m in (("post_foot", 0.0), ("crossbar_corner", top_m))
        for side, x_m in (("left", -half_m), ("right", half_m))
    )


def crease_places(radius_m: float) -> tuple[KnownPlace, ...]:
    """Where the crease crosses the goal line's way, and the way straight out of the goal."""
    return tuple(
        KnownPlace(name=f"crease_{side}", field_m=field_m, u_m=CREASE_U_M)
        for side, field_m in (
            ("left", (-radius_m, 0.0, 0.0)),  # both level with the posts
            ("right", (radius_m, 0.0, 0.0)),
            ("near", (0.0, -radius_m, 0.0)),  # before the middle of the goal
            ("far", (0.0, radius_m, 0.0)),  # behind it
        )
    )
