"""The range that holds for somebody: its two bounds, where each comes from, and both in a unit."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from pipeline.core.errors import SettingsError, told
from pipeline.core.messages import Message, message
from pipeline.core.results import TargetRange
from pipeline.core.written_range import WrittenBound, WrittenRange
from pipeline.measures import MEASURES
from pipeline.targets.arm_lengths import Arm, published_arm, takes_defenders_arm
from pipeline.targets.entries import ANY, COACH, Bound, Layer, Place, TargetEntry


@dataclass(frozen=True, slots=True, kw_only=True)
class ChosenBound:
    """A bound with the place that it was found at."""

    bound: Bound
    entry: TargetEntry
    place: Place
    layer: Layer

    @property
    def strength(self) -> tuple[bool, ...]:
        """Greater for what comes later in the order of strength."""
        _, level, hand, athlete = (part != ANY for part in self.place)
        return self.layer.name == COACH, athlete, hand, level

    def where(self) -> Message:
        """Say where it comes from, e.g. ``coach, level youth``."""
        athlete = self.place.athlete if self.place.athlete == ANY else self.entry.keys[1]
        place = self.place._replace(athlete=athlete).words()
        return message("range_place.from", layer=f"range_layers.{self.layer.name}", place=place)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChosenRange:
    """The range that holds for somebody, before the lengths of that body are known.

    Attributes
    ----------
    key
        Measure key.
    low, high
        The bounds; None when no place says anything of that side.
    """

    key: str
    low: ChosenBound | None
    high: ChosenBound | None

    @property
    def sides(self) -> tuple[ChosenBound, ...]:
        """The bounds that are numbers."""
        return tuple(
            side for side in (self.low, self.high) if side and side.bound.value is not None
        )

    @property
    def set_by(self) -> str:
        """Who set it; both names when the bounds are from two people."""
        strongest_first = sorted(self.sides, key=lambda side: side.strength, reverse=True)
        names = tuple(dict.fromkeys(side.entry.set_by for side in strongest_first))
        return message("grounds.two", one=names[0], other=names[1]) if len(names) > 1 else names[0]

    @property
    def why(self) -> str:
        """Ground of it; one for each bound when they differ."""
        grounds = dict.fromkeys(side.entry.why for side in self.sides)
        if len(grounds) < 2:
            return "".join(grounds)
        low, high = (side.entry.why for side in self.sides)
        return message("grounds.both", low=low, high=high)

    def written(self) -> WrittenRange:
        """Give the bounds as the coach wrote them, each with its unit."""
        low, high = (_written(side, self.key) for side in (self.low, self.high))
        return WrittenRange(low, high)

    def words(self) -> Message:
        """Put the range into words as the coach wrote it, e.g. ``0.94 to 1.2 of stature``."""
        return self.written().words()

    def in_unit(
        self, stature_m: float, arm: Arm | None = None, defender_arm: Arm | None = None
    ) -> TargetRange | None:
        """Give the range in the measure's own unit.

        Parameters
        ----------
        stature_m
            Stature of the athlete; NaN if it is not known.
        arm
            Arm of the athlete; None = by published proportion of the stature.
        defender_arm
            Arm of the defender, for measures of the room to him; None if it is not known.

        Returns
        -------
        TargetRange or None
            None without any bound, or when a length is not known that a bound is a fraction of: a
            range with half of its bounds would mislead.
        """
        if takes_defenders_arm(self.key):
            arm = defender_arm
        elif arm is None:
            arm = published_arm(stature_m)
        low, high = (_bound_in_unit(side, stature_m, arm) for side in (self.low, self.high))
        bounds = [bound for bound, _ in (low, high) if bound is not None]
        if not bounds or not all(isfinite(bound) for bound in bounds):
            return None
        return TargetRange(
            key=self.key,
            unit=MEASURES[self.key].unit,
            low=low[0],
            high=high[0],
            u_low=low[1],
            u_high=high[1],
            words=self.words(),
            written=self.written(),
            set_by=self.set_by,
            why=self.why,
        )


def _bound_in_unit(
    side: ChosenBound | None, stature_m: float, arm: Arm | None
) -> tuple[float | None, float]:
    """Give the bound in the measure's unit with its standard uncertainty; NaN if not known."""
    if side is None or side.bound.value is None:
        return None, 0.0
    value = side.bound.value
    if side.bound.scale == "of_stature":
        return value * stature_m, 0.0
    if side.bound.scale == "of_arm":
        return (float("nan"), 0.0) if arm is None else (value * arm.length_m, value * arm.u_m)
    return value, 0.0


def written_target(key: str, written: WrittenRange) -> TargetRange:
    """Give a written range for `pipeline.feedback.words.say_range`.

    Parameters
    ----------
    key
        Of the measure.
    written
        The range as the coach wrote it.

    Returns
    -------
    TargetRange
        With bounds if all that are set are in the measure's own unit, and not parts of a length;
        else in words alone.
    """
    unit = MEASURES[key].unit if key in MEASURES else ""
    low = high = None
    if key in MEASURES and written.units == {_own_unit(key)}:
        low, high = (
            None if bound is None else bound.value for bound in (written.low, written.high)
        )
    return TargetRange(
        key=key, unit=unit, low=low, high=high, words=written.words(), written=written,
        set_by="", why="",
    )  # fmt: skip


def _written(side: ChosenBound | None, key: str) -> WrittenBound | None:
    """Give a bound as a number with its unit; None if there is none."""
    if side is None or side.bound.value is None:
        return None
    unit: str = side.bound.scale
    if unit == "unit":
        unit = _own_unit(key)
    elif unit == "of_arm" and takes_defenders_arm(key):
        unit = "of_defenders_arm"
    return WrittenBound(side.bound.value, unit)


def _own_unit(key: str) -> str:
    """Name of a measure's unit as a bound is written in it."""
    return "number" if MEASURES[key].unit == "1" else MEASURES[key].unit_word


def is_reversed(range_: TargetRange) -> bool:
    """Whether the bounds contradict each other."""
    return range_.low is not None and range_.high is not None and range_.low > range_.high + 1e-9


def contradiction(chosen: ChosenRange) -> SettingsError:
    """Make the error for bounds that contradict each other, at the line of the stronger one."""
    low, high = chosen.sides
    strong = max(low, high, key=lambda side: side.strength)
    written = chosen.written()
    said = told(
        "bounds_contradict",
        low=written.low and written.low.words(),
        low_from=low.where(),
        high=written.high and written.high.words(),
        high_from=high.where(),
    )
    return strong.layer.file.error(*strong.entry.keys, **said)
