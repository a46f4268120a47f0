"""A run of a dodge, and the steps that go with it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ..tracks import Floats, Land, Pivot, Plan, Walk
from .common import direction

OTHER = {"left": "right", "right": "left"}
FOOT_OF = {1.0: "left", -1.0: "right"}
"""Foot on the left (+1) or right (-1)."""


@dataclass(slots=True)
class Run:
    """One rep: from where and in which direction it runs, its paces and instants (s)."""

    start: float
    go: float
    yaw: float
    place: Floats
    run_mps: float
    period: float
    cut: float = 0.0
    at_cut: Floats = field(default_factory=lambda: np.zeros(2))
    done: float = 0.0
    """The end of the burst: the run-out slows down from here on."""

    @property
    def ahead(self) -> Floats:
        """Direction of the run-in."""
        return direction(self.yaw)

    @property
    def left(self) -> Floats:
        """Direction square to the run-in, to the left."""
        return direction(self.yaw + np.pi / 2)


class Stepper:
    """Writes landings into a plan."""

    plan: Plan

    def steps_on(self, after_s: float, foot: str, stop_s: float, period_s: float) -> str:
        """Step on from a landing of ``foot`` until ``stop_s``; return the foot that lands last."""
        n_steps = max(1, round((stop_s - after_s) / period_s))
        step_s = (stop_s - after_s) / n_steps
        last = OTHER[foot] if n_steps % 2 == 1 else foot
        self.plan.steps.append(
            Walk(
                start_s=after_s + 0.5 * step_s - 0.1,
                stop_s=stop_s,
                period_s=step_s,
                last_foot=last,
                lift_m=0.08,
            )
        )
        return last

    def steps_in(self, run: Run, foot: str, before_s: float | None = None) -> None:
        """Step from the start so that the next landing of ``foot`` is at the cut."""
        period = run.period if before_s is None else before_s
        self.plan.steps.append(
            Walk(
                start_s=run.go - 0.1,
                stop_s=run.cut - period,
                period_s=run.period,
                last_foot=OTHER[foot],
            )
        )

    def land(
        self, when: float, foot: str, spot: Floats, yaw: float, swing_s: float,
        pivot: Pivot | None = None,
    ) -> None:  # fmt: skip
        """Land one foot at a place."""
        self.plan.steps.append(
            Land(
                time_s=when,
                foot=foot,
                mid_foot_m=(float(spot[0]), float(spot[1])),
                yaw_rad=yaw,
                swing_s=swing_s,
                pivot=pivot,
            )
        )
