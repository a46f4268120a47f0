"""What a measure sees of a rep, and how values over draws become a measurement."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from pipeline.core.messages import message, shipped
from pipeline.core.results import Measurement
from pipeline.core.types import FloatArray, Grade, Motion, Rep
from pipeline.scene.uncertainty import ALL_SOURCES, Sources

WITHIN_FRAME_SPREAD = 12**-0.5
"""Standard deviation of an instant known to lie within one frame, in frames."""


class NotMeasured(Exception):
    """Raised by a measure that cannot be had.

    Attributes
    ----------
    reason
        Why, in plain words: a text of the section ``[reasons]`` of the catalogue.
    """

    def __init__(self, name: str, **values: object) -> None:
        self.reason = message(f"reasons.{name}", **values)
        super().__init__(self.reason)


@dataclass(frozen=True, slots=True, kw_only=True)
class RepView:
    """One rep as the measures see it.

    Attributes
    ----------
    rep
        Window and events.
    athlete
        The athlete's motion over the rep and a margin, with draws.
    defender
        The other player's over the same frames; None when nobody was followed.
    event_s
        By event name, (n_draws,) instants: draw 0 is the event's time.
    grade
        How the scale is known.
    sources
        Which sources of uncertainty are drawn; a measure reads it through `own_noise` alone.
    goal_m
        As in `Scene`.
    shared
        What several measures need, by name; filled by the first of them.
    """

    rep: Rep
    athlete: Motion
    defender: Motion | None
    event_s: Mapping[str, FloatArray]
    grade: Grade
    sources: Sources = ALL_SOURCES
    goal_m: FloatArray | None = None
    shared: dict[str, FloatArray] = field(default_factory=dict, repr=False, compare=False)

    @property
    def top(self) -> str:
        """Side of the top hand.

        Raises
        ------
        NotMeasured
            When it could not be found.
        """
        if self.rep.stick_hand is None:
            raise NotMeasured("no_stick_hand")
        return self.rep.stick_hand

    @property
    def bottom(self) -> str:
        """Side of the bottom hand."""
        return "left" if self.top == "right" else "right"

    def instant(self, event: str) -> FloatArray:
        """(n_draws,) instants of an event.

        Raises
        ------
        NotMeasured
            When the event was not found.
        """
        if event not in self.event_s:
            if f"no_{event}" in shipped().table["reasons"]:  # there is more to report than its name
                raise NotMeasured(f"no_{event}")
            raise NotMeasured("no_event", event=f"events.{event}")
        return self.event_s[event]

    def own_noise(self, shape: tuple[int, ...], seed: int = 0) -> FloatArray:
        """Noise of unit variance for a spread that a measure adds of its own; 0 if switched off."""
        return unit_noise(shape, seed) if self.sources.own else np.zeros(shape)

    def between(self, start_s: float, stop_s: float) -> slice:
        """Frames of the motion from `start_s` to `stop_s`, at least one."""
        time_s = self.athlete.time_s
        first = int(np.searchsorted(time_s, start_s - 1e-9))
        last = int(np.searchsorted(time_s, stop_s + 1e-9))
        first = min(first, time_s.size - 1)
        return slice(first, max(last, first + 1))

    def at(self, event: str) -> slice:
        """Frames of the motion at an event, at least one."""
        instant_s = float(self.instant(event)[0])
        return self.between(instant_s - 0.02, instant_s + 0.02)


@lru_cache(maxsize=64)
def unit_noise(shape: tuple[int, ...], seed: int) -> FloatArray:
    """Noise of unit variance that depends on shape and seed alone; not to be written to."""
    noise = np.random.default_rng(seed).standard_normal(shape)
    noise.flags.writeable = False
    return noise


@dataclass(frozen=True, slots=True)
class DrawnValue:
    """Values of a measure over the draws, and where in the motion they were read.

    Attributes
    ----------
    values
        (n_draws,).
    frames
        Frames of the motion; None when it is a difference of instants.
    ends_m
        (2, 3) ends of the measured line by the best estimate, for the picture; None for no line.
    """

    values: FloatArray
    frames: slice | None = None
    ends_m: FloatArray | None = None


MeasureFunction = Callable[[RepView], DrawnValue]


def sample(track: FloatArray, time_s: FloatArray, instant_s: FloatArray) -> FloatArray:
    """Values of a track at an instant of each draw, linear between frames.

    Parameters
    ----------
    track
        (n_draws, n_frames) or (n_draws, n_frames, d).
    time_s
        (n_frames,).
    instant_s
        (n_draws,).

    Returns
    -------
    numpy.ndarray
        (n_draws,) or (n_draws, d).
    """
    after = np.clip(np.searchsorted(time_s, instant_s), 1, time_s.size - 1)
    part = np.clip((instant_s - time_s[after - 1]) / (time_s[after] - time_s[after - 1]), 0.0, 1.0)
    draw = np.arange(track.shape[0])
    part = part.reshape(part.shape + (1,) * (track.ndim - 2))
    return np.asarray(track[draw, after - 1] * (1 - part) + track[draw, after] * part)


def middle_at(motion: Motion, part: str, instant_s: FloatArray) -> FloatArray:
    """(n_draws, 3) half way between the left and the right joint at an instant of each draw."""
    left, right = (
        sample(motion.joint(f"{side}_{part}"), motion.time_s, instant_s)
        for side in ("left", "right")
    )
    return np.asarray(0.5 * (left + right))


def middle_95(values: FloatArray) -> tuple[float, float]:
    """Return the quantiles at 2.5 and 97.5 %, linear between the sorted values.

    As `numpy.quantile`, which takes ten times as long for a few hundred values.

    Parameters
    ----------
    values
        (n,) at least one, all finite.
    """
    ordered = np.sort(values)
    at = np.array([0.025, 0.975]) * (ordered.size - 1)
    low, high = np.interp(at, np.arange(ordered.size), ordered).tolist()
    return low, high


def measurement_from(
    key: str, unit: str, reading: DrawnValue, first_frame: int, *, is_count: bool = False
) -> Measurement:
    """Summarise the draws: best estimate, standard uncertainty and 95 % interval.

    The draws are the best estimate with noise added. A greatest or least value over noisy frames
    is biased by that noise, the same way in every draw; so the interval is taken from the spread of
    the draws about their own mean and laid around the best estimate. The draws of a count stay as
    they are: half of them at 2 means that it may well be 2.

    Parameters
    ----------
    key, unit
        Of the measure.
    reading
        Values over the draws.
    first_frame
        Clip index of the first frame of the motion.
    is_count
        Whether it is a whole number of things.

    Returns
    -------
    Measurement
        Without a value, with its reason, if the best estimate or too many draws are unknown.
    """
    values = reading.values
    good = values[1:][np.isfinite(values[1:])]
    if not np.isfinite(values[0]) or good.size < 0.8 * (values.size - 1):
        return Measurement(key=key, unit=unit, reason=message("reasons.no_joints"))
    centred = good if is_count else good - good.mean() + values[0]
    window = range(*reading.frames.indices(10**9)) if reading.frames is not None else range(0)
    return Measurement(
        key=key,
        unit=unit,
        value=float(values[0]),
        u=float(good.std(ddof=1)),
        interval95=middle_95(centred),
        draws=centred,
        frames=tuple(first_frame + i for i in window),
        ends_m=reading.ends_m,
    )
