"""Simulated films: scripts one after the other, seen by a camera, with a defender or without."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from models.moves.classifier import NOT_A_REP, OTHER
from models.training import dodging, passes, shots
from models.training.body import Build, Moved, draw_build, moved_body
from models.training.resting import RESTING
from models.training.script import GO, HANDS, RATE_HZ, Script, joined, mirrored_script
from models.training.seeing import seen
from models.training.strange import STRANGE
from models.training.style import Style, draw_style
from models.training.writing import slow_noise
from pipeline.core.types import Hand, Motion

WriteScript = Callable[[Style, np.random.Generator], Script]

TAUGHT: dict[str, WriteScript] = {
    write.__name__: write
    for write in (
        shots.high_to_low_shot,
        shots.low_to_high_shot,
        shots.on_the_run_shot,
        shots.step_down_shot,
        passes.throwback_pass,
        passes.pivot_throwback_pass,
        dodging.split_dodge,
        dodging.angle_cut_dodge,
        dodging.close_gap_dodge,
        dodging.roll_dodge,
        dodging.hesitation_dodge,
    )
}
"""The moves by their keys in the move table."""

CLASSES = (*TAUGHT, OTHER, NOT_A_REP)

RATES_HZ = (24, 25, 30, 30, 30, 30, 50, 60, 60, 60, 60, 120)
"""Frame rates of the films; a faster one looks the same on the grid of the features."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueRep:
    """A rep as it was simulated.

    Attributes
    ----------
    label
        Key of the move, or `OTHER`.
    start_s, stop_s, key_s
        Window and key instant.
    hand
        Top hand at the start.
    """

    label: str
    start_s: float
    stop_s: float
    key_s: float
    hand: Hand


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedFilm:
    """Motions as the program would have them, and what was really done.

    Attributes
    ----------
    athlete, defender
        Over the same frames; None where there is no defender.
    reps
        In order.
    """

    athlete: Motion
    defender: Motion | None
    reps: tuple[TrueRep, ...]


def simulate_film(
    chance: np.random.Generator,
    *,
    n_reps: int = 8,
    labels: Sequence[str] | None = None,
    noise: float = 1.0,
    rate_hz: float | None = None,
    short: bool = False,
) -> SimulatedFilm:
    """Simulate a film.

    Parameters
    ----------
    chance
        Source of chance.
    n_reps
        How many reps.
    labels
        What they are; drawn if None.
    noise
        Factor on the errors of the pose model.
    rate_hz
        Frame rate; drawn if None.
    short
        Whether limbs are seen to go less far than they do, as the pose model has it.

    Returns
    -------
    SimulatedFilm
    """
    style, build = draw_style(chance), draw_build(chance)
    if labels is None:
        shares = np.array([1.0] * len(TAUGHT) + [4.0])
        labels = list(chance.choice([*TAUGHT, OTHER], n_reps, p=shares / shares.sum()))
    scripts: list[Script] = []
    crowded = chance.random() < 0.3
    for label in labels:
        for _ in range(int(chance.integers(0, 2 if crowded else 4))):
            scripts.append(_drawn(RESTING, style, chance))
        scripts.append(
            TAUGHT[label](style, chance) if label != OTHER else _drawn(STRANGE, style, chance)
        )
    ends_with_rep = chance.random() < 0.4
    if not ends_with_rep:
        scripts.append(_drawn(RESTING, style, chance))
    if chance.random() < 0.5:
        scripts = [mirrored_script(script) for script in scripts]
    scripts = [_warped(script, chance) for script in scripts]
    blends_s = chance.uniform(0.25, 1.0, len(scripts)) * (0.6 if crowded else 1.0)
    controls, starts = joined(scripts, list(blends_s))
    if ends_with_rep:
        last_s = starts[-1] + scripts[-1].stop_s + chance.uniform(0.05, 1.0)
        controls = controls[: round(last_s * RATE_HZ) + 1]
    body = moved_body(
        controls, build, start_m=chance.uniform(-3, 3, 2) + [0.0, 9.0],
        direction=chance.uniform(-np.pi, np.pi), chance=chance,
    )  # fmt: skip
    reps = tuple(
        TrueRep(
            label=script.label,
            start_s=start + script.start_s,
            stop_s=start + script.stop_s,
            key_s=start + script.key_s,
            hand="right" if script.right_on_top else "left",
        )
        for script, start in zip(scripts, starts, strict=True)
        if script.label != NOT_A_REP
    )
    others = _defender(body, reps, build, chance)
    rate_hz = float(chance.choice(RATES_HZ)) if rate_hz is None else rate_hz
    athlete = seen(body, build, rate_hz, noise, chance, short=short)
    defender = None
    if others is not None:
        defender = seen(others, build, rate_hz, noise, chance, often_lost=True, short=short)
    return SimulatedFilm(athlete=athlete, defender=defender, reps=reps)


def _drawn(
    table: Sequence[tuple[WriteScript, float]], style: Style, chance: np.random.Generator
) -> Script:
    shares = np.array([share for _, share in table])
    return table[int(chance.choice(len(table), p=shares / shares.sum()))][0](style, chance)


def _warped(script: Script, chance: np.random.Generator) -> Script:
    """Bend and stretch the time of a script, and its amplitudes; cut off some of what is no rep."""
    n = len(script.controls)
    pace = np.exp(0.10 * slow_noise(chance, n, 0.5, 1)[:, 0])
    at = np.concatenate([[0.0], np.cumsum(pace)[:-1]])
    stretch = float(np.exp(chance.normal(0.0, 0.12)))
    at *= stretch * (n - 1) / at[-1]
    rows = np.arange(n)
    first = last = 0
    if script.label != NOT_A_REP:
        first = int(max(0.0, chance.uniform(-0.3, 0.9) * script.start_s * RATE_HZ))
        spare = n - 1 - script.stop_s * RATE_HZ
        last = int(max(0.0, chance.uniform(-0.2, 0.95) * spare))
    start_at, stop_at = at[first], at[n - 1 - last]
    kept = np.arange(start_at, stop_at)
    controls = np.column_stack([np.interp(kept, at, column) for column in script.controls.T])
    controls[:, GO] *= np.exp(chance.normal(0.0, 0.12)) / stretch
    middle = np.median(controls[:, HANDS], axis=0)
    controls[:, HANDS] = middle + np.exp(chance.normal(0.0, 0.08)) * (controls[:, HANDS] - middle)

    def when(instant_s: float) -> float:
        where = np.interp(instant_s * RATE_HZ, rows, at) - start_at
        return float(where / RATE_HZ)

    return replace(
        script, controls=controls, start_s=when(script.start_s), stop_s=when(script.stop_s),
        key_s=when(script.key_s),
    )  # fmt: skip


def _defender(
    body: Moved, reps: Sequence[TrueRep], build: Build, chance: np.random.Generator
) -> Moved | None:
    """Someone who stands in the dodger's way and follows him a little; or merely stands about."""
    if chance.random() < 0.4:
        return None
    hips = body.joints_m[:, 13:15].mean(axis=1)[:, :2]
    n, stature_m = len(hips), build.stature_m
    keys: list[tuple[float, ...]] = []
    for rep in reps:
        if not rep.label.endswith("_dodge") and chance.random() < 0.5:
            continue
        key, before = (int(np.clip(s * RATE_HZ, 0, n - 1)) for s in (rep.key_s, rep.key_s - 0.5))
        way = hips[key] - hips[before]
        far = np.linalg.norm(way)
        way = way / far if far > 0.1 else chance.normal(0.0, 1.0, 2)
        least, most = (0.38, 0.95) if rep.label == "close_gap_dodge" else (0.5, 1.7)
        gap = float(chance.uniform(least, most)) * stature_m
        aside = chance.normal(0.0, 0.15) * np.array([-way[1], way[0]]) * stature_m
        if rep.label in ("angle_cut_dodge", OTHER):  # he is run across, not run at
            turn = chance.choice([-1.0, 1.0]) * chance.uniform(0.75, 1.8)
            way = np.array(
                [
                    np.cos(turn) * way[0] - np.sin(turn) * way[1],
                    np.sin(turn) * way[0] + np.cos(turn) * way[1],
                ]
            )
        place = hips[key] + gap * way + aside
        keys.append((rep.start_s, *(place + chance.normal(0, 0.5, 2))))
        keys.append((rep.key_s, *place))
        chased = place + chance.uniform(0.0, 0.5) * (
            hips[min(n - 1, key + 50)] - hips[key] + chance.normal(0, 0.4, 2)
        )
        keys.append((rep.stop_s + 0.4, *chased))
    if not keys:
        keys = [(0.0, *(hips[0] + chance.normal(0.0, 3.0, 2)))]
    from models.training.script import curve

    rows_s = np.arange(n) / RATE_HZ
    path = curve(rows_s, keys) + 0.05 * slow_noise(chance, n, 0.8, 2)
    toward = hips - path
    facing = np.unwrap(np.arctan2(toward[:, 1], toward[:, 0]))
    style, own = draw_style(chance), draw_build(chance)
    from models.training.script import CHEST, GO, HANDS, HIP, N_CONTROLS

    controls = np.zeros((n, N_CONTROLS))
    controls[:, GO] = np.gradient(path, 1 / RATE_HZ, axis=0) / own.stature_m
    controls[:, CHEST], controls[:, HIP] = facing, style.hip - 0.03
    controls[:, HANDS] = np.concatenate([style.carry_bottom, style.carry_top])
    return moved_body(controls, own, start_m=path[0], direction=0.0, chance=chance)
