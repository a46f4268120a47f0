"""The table of throws beside the first three moves: which module choreographs each."""

from __future__ import annotations

from collections.abc import Callable

from . import low_to_high_shot, on_the_run_shot, pivot_throwback_pass, step_down_shot
from .common import Choreography, Order

THROWS: dict[str, Callable[[Order], Choreography]] = {
    "low_to_high_shot": low_to_high_shot.choreograph,
    "on_the_run_shot": on_the_run_shot.choreograph,
    "step_down_shot": step_down_shot.choreograph,
    "pivot_throwback_pass": pivot_throwback_pass.choreograph,
}
