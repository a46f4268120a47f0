"""Every move once plain and once with each difficulty alone, drawn at random by a seed.

All clips of a move share choreography, body and camera, so that errors can be compared in pairs;
only ``portrait`` takes the camera farther back, and ``other_body`` puts another player in.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .drawn_set import (
    ADULTS,
    DISTANCE_M,
    LEAST_FROM_LINE_DEG,
    MOVES,
    SIZES,
    STATURE_M,
    YOUTHS,
    draw_person,
)
from .entry import ClipEntry, View
from .framing import LEAST_MARKS, camera_of, marks_in_picture, scene_of, upright
from .hardships import Hardship, PasserBy
from .moves.common import Order
from .people import Person

N_REPS = 2
FEMALE_FROM = 0.5
"""From this value of the shape's ``gender`` on a body is a female one."""
LEAST_Y_M = 2.0
"""Nobody runs, and no camera stands, nearer to the goal line."""
PORTRAIT_PULL = {"high_to_low_shot": 1.1, "throwback_pass": 1.4, "close_gap_dodge": 1.6}
"""About how much farther back portrait film needs the camera, to choose a place with marks."""
MARGIN_PX = 30.0

CRF_OF_COMPRESSION = 37
PHONE_MBIT_S = 12.0
"""About what phones spend on film of this size; noise would take five times as much."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kind:
    """Level, sex and stick hand of one athlete."""

    level: str
    female: bool
    stick_hand: str

    def opposite(self) -> _Kind:
        return _Kind(
            level="adult" if self.level == "youth" else "youth",
            female=not self.female,
            stick_hand="left" if self.stick_hand == "right" else "right",
        )


def hard_clips(seed: int) -> tuple[ClipEntry, ...]:
    """Draw a base clip of every move, and put each difficulty on it alone.

    Parameters
    ----------
    seed : int
        The same seed gives the same clips.

    Returns
    -------
    tuple of ClipEntry
        Named ``hard_<seed>_<move>_<difficulty>``, those with the difficulty ``plain`` first.
    """
    plans = [_of_move(seed, move, kind, fps) for move, kind, fps in _kinds(seed)]
    return tuple(entry for of_difficulty in zip(*plans, strict=True) for entry in of_difficulty)


def _kinds(seed: int) -> list[tuple[str, _Kind, int]]:
    """Deal levels, sexes, hands and frame rates out to the moves; each occurs in every seed."""
    rng = np.random.default_rng([seed, len(MOVES)])
    levels = rng.permutation(["youth", "adult", "adult"]).tolist()
    females = rng.permutation([True, False, bool(rng.random() < 0.5)]).tolist()
    stick_hands = rng.permutation(["left", "right", rng.choice(["left", "right"])]).tolist()
    # The dodge is the longest clip with the most people to draw: always the lower rate.
    rates = [*rng.permutation([30, 60]).tolist(), 30]
    kinds = [
        _Kind(level=level, female=female, stick_hand=hand)
        for level, female, hand in zip(levels, females, stick_hands, strict=True)
    ]
    return list(zip(MOVES, kinds, rates, strict=True))


def _of_move(seed: int, move: str, kind: _Kind, fps: int) -> list[ClipEntry]:
    """Return all clips of one move, the plain one first."""
    rng = np.random.default_rng([seed, MOVES.index(move), 7])
    base = _base(rng, seed, move, kind, fps)
    clips = []
    for hardship in _hardships(rng, (seed + MOVES.index(move)) % 2 == 0):
        entry = replace(
            base,
            name=f"hard_{seed}_{move}_{hardship.name}",
            hardship=hardship,
            crf=CRF_OF_COMPRESSION if hardship.name == "compression" else base.crf,
        )
        clips.append(upright(entry) if hardship.stored_turn_deg else entry)
    other = kind.opposite()
    athlete = _other_than(rng, other, base.athlete, base.defender)
    order = replace(base.order, stature_m=athlete.stature_m, stick_hand=other.stick_hand)
    clips.append(
        replace(
            base,
            name=f"hard_{seed}_{move}_other_body",
            level=other.level,
            athlete=athlete,
            order=order,
            hardship=Hardship(name="other_body"),
        )
    )
    return clips


def _hardships(rng: np.random.Generator, even: bool) -> list[Hardship]:
    """Return one of each kind; ``even`` decides what has two sides, so that both occur."""
    passer_by = PasserBy(
        person=draw_person(rng, ADULTS, STATURE_M["adult"]),
        before=even,
        walk_mps=round(float(rng.choice([-1, 1]) * rng.uniform(1.2, 1.5)), 2),
    )
    return [
        Hardship(name="plain"),
        Hardship(name="motion_blur", exposure_s=1 / 60),
        Hardship(name="rolling_shutter", readout_s=0.020),
        Hardship(
            name="shake",
            drift_deg=round(rng.uniform(0.5, 1.0), 2),
            tremor_deg=round(rng.uniform(0.03, 0.06), 3),
        ),
        Hardship(
            name="low_light",
            light=round(rng.uniform(0.45, 0.6), 2),
            grain=round(rng.uniform(14.0, 18.0), 1),
            most_mbit_s=PHONE_MBIT_S,
        ),
        Hardship(name="compression"),
        Hardship(name="portrait", stored_turn_deg=90 if even else 270),
        Hardship(name="uneven_times", dropped_share=round(rng.uniform(0.08, 0.15), 2)),
        Hardship(name="passer_by", passer_by=passer_by),
        Hardship(
            name="distortion",
            distortion=(round(rng.uniform(-0.20, -0.14), 3), round(rng.uniform(0.02, 0.04), 3)),
        ),
    ]


def _person(rng: np.random.Generator, kind: _Kind) -> Person:
    models = YOUTHS if kind.level == "youth" else ADULTS
    of_sex = tuple(m for m in models if (m.shape["gender"] > FEMALE_FROM) == kind.female)
    low_m, high_m = STATURE_M[kind.level]
    # Of grown players the women are the smaller ones.
    if kind.level == "adult":
        low_m, high_m = (low_m, low_m + 0.16) if kind.female else (high_m - 0.22, high_m)
    return draw_person(rng, of_sex, (low_m, high_m))


def _other_than(rng: np.random.Generator, kind: _Kind, *others: Person | None) -> Person:
    """Draw a player whose jersey nobody else wears."""
    jerseys = [other.clothes.jersey for other in others if other is not None]
    while True:
        person = _person(rng, kind)
        if person.clothes.jersey not in jerseys:
            return person


def _base(rng: np.random.Generator, seed: int, move: str, kind: _Kind, fps: int) -> ClipEntry:
    """Draw the plain clip of a move: goal and cones in view, also of a portrait picture."""
    athlete = _person(rng, kind)
    guard = replace(kind, female=bool(rng.random() < 0.5))
    defender = _other_than(rng, guard, athlete)
    sizes = rng.uniform(*SIZES[move], N_REPS)
    order = Order(
        seed=int(rng.integers(1, 10**6)),
        stature_m=athlete.stature_m,
        stick_hand=kind.stick_hand,
        n_reps=N_REPS,
        place_m=(0.0, 0.0),
        yaw_deg=0.0,
        speed=round(rng.uniform(0.9, 1.0), 2),
        sizes=tuple(float(size) for size in np.round(sizes, 2)),
        flip=bool(rng.random() < 0.5),
        opponent_stature_m=defender.stature_m,
    )
    entry = ClipEntry(
        name=f"hard_{seed}_{move}",
        move=move,
        level=kind.level,
        fps=fps,
        athlete=athlete,
        defender=defender if move == "close_gap_dodge" else None,
        order=order,
        view=View(around_deg=0.0, distance_m=8.0),
        sun=(round(rng.uniform(-0.6, 0.6), 2), round(rng.uniform(-0.6, 0.6), 2), 0.7),
        noise=round(rng.uniform(1.3, 2.2), 1),
    )
    while True:
        placed = _placed(rng, entry)
        if _well_placed(placed):
            return placed


def _placed(rng: np.random.Generator, entry: ClipEntry) -> ClipEntry:
    """Draw where the players are and where the camera stands."""
    move, least_deg = entry.move, LEAST_FROM_LINE_DEG[entry.move]
    order = replace(
        entry.order,
        place_m=(round(rng.uniform(-4, 4), 1), round(rng.uniform(4, 12), 1)),
        yaw_deg=float(rng.integers(-180, 180)),
    )
    view = View(
        around_deg=float(rng.choice([-1, 1]) * rng.integers(least_deg, 181 - least_deg)),
        distance_m=round(rng.uniform(*DISTANCE_M[move]), 1),
        height_m=round(rng.uniform(1.15, 1.6), 2),
        aim_height_m=0.85 if move == "high_to_low_shot" else 0.7,
        fov_deg=float(rng.integers(63, 71)),
        roll_deg=round(rng.uniform(-1.0, 1.0), 1),
    )
    return replace(entry, order=order, view=view)


def _well_placed(entry: ClipEntry) -> bool:
    """Whether enough marks are in view, and neither the run nor the camera is at the goal."""
    start_y, middle_y = entry.order.place_m[1], entry.centre_m()[1]
    run_to_y = 2 * middle_y - start_y
    if min(start_y, run_to_y, entry.camera_m()[1]) < LEAST_Y_M:
        return False
    scene = scene_of(entry)
    portrait = camera_of(upright(entry), PORTRAIT_PULL[entry.move])
    return all(
        len(marks_in_picture(scene, camera, MARGIN_PX)) >= LEAST_MARKS
        for camera in (camera_of(entry), portrait)
    )
