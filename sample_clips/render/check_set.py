"""Bodies, views and seeds of their own, to score a finished program on; never to tune on."""

from __future__ import annotations

from dataclasses import replace

from . import people
from .entry import ClipEntry, View
from .moves.common import Order
from .people import Person


def _other(person: Person, stature_m: float, **shape: float) -> Person:
    """Give a body that no other set holds, in the clothes of one that it does."""
    return replace(person, stature_m=stature_m, shape=person.shape | shape)


_SHORT_MAN = _other(people.TALL_MAN, 1.70, age=0.75, weight=0.52, proportions=0.42)
_YOUNG_WOMAN = _other(people.WOMAN, 1.64, age=0.55, muscle=0.5, weight=0.36, proportions=0.66)
_STOCKY_BOY = _other(people.YOUTH, 1.49, gender=0.1, age=0.40, weight=0.55, proportions=0.5)
_LANKY_BOY = _other(people.BOY, 1.66, age=0.47, weight=0.28, proportions=0.68)
_BIG_MAN = _other(people.LEFTY, 1.90, age=0.72, muscle=0.72, weight=0.56, proportions=0.52)
_GUARD = _other(people.GUARD, 1.74, muscle=0.55, weight=0.42)
_YOUNG_GUARD = _other(people.BOY_GUARD, 1.56, age=0.43, weight=0.45)

CLIPS: tuple[ClipEntry, ...] = (
    ClipEntry(
        name="check_shot_1", move="high_to_low_shot", level="adult", fps=60, athlete=_SHORT_MAN,
        order=Order(seed=301, stature_m=1.70, stick_hand="right", n_reps=4, place_m=(1.5, 8.0),
                    yaw_deg=-98, sizes=(1.04, 0.92, 1.12, 0.98)),
        view=View(around_deg=-80, distance_m=7.2, height_m=1.3),
    ),
    ClipEntry(
        name="check_shot_2", move="high_to_low_shot", level="adult", fps=30, athlete=_YOUNG_WOMAN,
        order=Order(seed=302, stature_m=1.64, stick_hand="left", n_reps=5, place_m=(-2.0, 9.5),
                    yaw_deg=-84, speed=0.95, sizes=(0.95, 1.07, 1.0, 1.11, 0.9)),
        view=View(around_deg=70, distance_m=6.9, height_m=1.45, fov_deg=63), noise=2.0,
    ),
    ClipEntry(
        name="check_shot_3", move="high_to_low_shot", level="youth", fps=30, athlete=_STOCKY_BOY,
        order=Order(seed=303, stature_m=1.49, stick_hand="right", n_reps=4, place_m=(0.5, 7.5),
                    yaw_deg=-90, speed=0.9, sizes=(1.0, 0.94, 1.09, 1.03)),
        view=View(around_deg=-35, distance_m=6.4, height_m=1.15, aim_height_m=0.7),
        size_px=(960, 540),
    ),
    ClipEntry(
        name="check_throwback_1", move="throwback_pass", level="youth", fps=30, athlete=_LANKY_BOY,
        order=Order(seed=311, stature_m=1.66, stick_hand="left", n_reps=3, place_m=(2.5, 10.0),
                    yaw_deg=175, speed=0.95, sizes=(0.55, 0.8, 0.42)),
        view=View(around_deg=85, distance_m=8.0, height_m=1.35),
    ),
    ClipEntry(
        name="check_throwback_2", move="throwback_pass", level="adult", fps=60, athlete=_BIG_MAN,
        order=Order(seed=312, stature_m=1.90, stick_hand="right", n_reps=3, place_m=(-2.0, 10.5),
                    yaw_deg=-25, sizes=(0.9, 0.6, 0.75), flip=True),
        view=View(around_deg=-110, distance_m=8.6, height_m=1.55, fov_deg=67),
    ),
    ClipEntry(
        name="check_throwback_3", move="throwback_pass", level="adult", fps=30, athlete=_SHORT_MAN,
        order=Order(seed=313, stature_m=1.70, stick_hand="right", n_reps=3, place_m=(0.0, 11.0),
                    yaw_deg=-140, sizes=(0.48, 0.7, 1.0)),
        view=View(around_deg=50, distance_m=8.2, height_m=1.4), sun=(0.5, 0.3, 0.5),
    ),
    ClipEntry(
        name="check_dodge_1", move="close_gap_dodge", level="adult", fps=30, athlete=_YOUNG_WOMAN,
        defender=_GUARD,
        order=Order(seed=321, stature_m=1.64, stick_hand="left", n_reps=3, place_m=(3.0, 11.0),
                    yaw_deg=180, sizes=(1.1, 1.6, 0.95), opponent_stature_m=1.74),
        view=View(around_deg=-85, distance_m=9.2, height_m=1.4, aim_height_m=0.7, fov_deg=66),
    ),
    ClipEntry(
        name="check_dodge_2", move="close_gap_dodge", level="youth", fps=30, athlete=_LANKY_BOY,
        defender=_YOUNG_GUARD,
        order=Order(seed=322, stature_m=1.66, stick_hand="right", n_reps=3, place_m=(-2.0, 12.0),
                    yaw_deg=-60, speed=0.95, sizes=(1.3, 0.9, 1.8), flip=True,
                    opponent_stature_m=1.56),
        view=View(around_deg=115, distance_m=9.0, height_m=1.5, aim_height_m=0.6, fov_deg=68),
    ),
    ClipEntry(
        name="check_dodge_3", move="close_gap_dodge", level="adult", fps=60, athlete=_BIG_MAN,
        defender=_GUARD,
        order=Order(seed=323, stature_m=1.90, stick_hand="right", n_reps=3, place_m=(1.0, 12.5),
                    yaw_deg=-100, sizes=(1.5, 1.0, 1.25), opponent_stature_m=1.74),
        view=View(around_deg=60, distance_m=9.4, height_m=1.55, aim_height_m=0.65, fov_deg=64),
    ),
)  # fmt: skip
