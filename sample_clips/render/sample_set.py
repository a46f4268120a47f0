"""The committed sample clips: an invented evening of an invented club."""

from __future__ import annotations

from . import people
from .entry import ClipEntry, View
from .moves.common import Order

CLIPS: tuple[ClipEntry, ...] = (
    ClipEntry(
        name="shot_adult",
        move="high_to_low_shot",
        level="adult",
        fps=60,
        athlete=people.ADULT,
        order=Order(
            seed=11,
            stature_m=1.82,
            stick_hand="right",
            n_reps=4,
            place_m=(2.0, 8.0),
            yaw_deg=-104,
            sizes=(1.06, 0.97, 1.12, 0.91),
            delays_s=(0.0, 0.2, 0.0, 0.0),
        ),
        view=View(around_deg=-70, distance_m=7.2),
    ),
    ClipEntry(
        name="shot_left_hand",
        move="high_to_low_shot",
        level="adult",
        fps=30,
        athlete=people.LEFTY,
        order=Order(
            seed=21,
            stature_m=1.88,
            stick_hand="left",
            n_reps=5,
            place_m=(-2.5, 7.5),
            yaw_deg=-72,
            sizes=(1.0, 1.1, 0.95, 1.04, 0.9),
        ),
        view=View(around_deg=155, distance_m=6.8, height_m=1.5),
    ),
    ClipEntry(
        name="throwback_youth",
        move="throwback_pass",
        level="youth",
        fps=30,
        athlete=people.YOUTH,
        order=Order(
            seed=12,
            stature_m=1.52,
            stick_hand="right",
            n_reps=3,
            place_m=(-1.9, 9.0),
            yaw_deg=0,
            speed=0.95,
            sizes=(0.7, 0.42, 0.9),
            delays_s=(0.0, 0.0, 0.25),
        ),
        view=View(around_deg=82, distance_m=7.6, height_m=1.3, aim_height_m=0.7),
    ),
    ClipEntry(
        name="dodge_adult",
        move="close_gap_dodge",
        level="adult",
        fps=30,
        athlete=people.ADULT,
        defender=people.GUARD,
        order=Order(
            seed=13,
            stature_m=1.82,
            stick_hand="right",
            n_reps=3,
            place_m=(0.5, 13.0),
            yaw_deg=-90,
            sizes=(1.1, 1.6, 0.95),
            opponent_stature_m=1.80,
        ),
        view=View(around_deg=70, distance_m=9.4, height_m=1.5, aim_height_m=0.7, fov_deg=70),
    ),
)
