"""Finds the target range that applies to a measure: by move, level, hand and athlete.

The order of strength
---------------------
A bound is looked up from the weakest place to the strongest, and each scope that sets something
about that bound replaces what was found before:

1. the shipped ranges, then the coach's own file;
2. in each file: what holds for anyone, then what holds for the athlete who is named;
3. in each of these: what holds for any hand, then for the stick hand of the rep;
4. in each of these: what holds for any level, then for the level of play.

So the coach's range for any level beats a shipped one for this level, a hand beats a level, and an
athlete beats a hand. The two bounds are looked up apart from each other: a place that gives only
one inherits the other. A bound that is ``open`` ends the inheritance on its side, ``no_range`` on
both.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import isfinite

from pipeline.core.errors import SettingsError, error_text
from pipeline.core.messages import Message, message
from pipeline.core.results import Side, TargetRange
from pipeline.core.written_range import WrittenBound, WrittenRange
from pipeline.measures import MEASURES, measures_with_range
from pipeline.targets.arm_lengths import Arm, published_arm, takes_defenders_arm
from pipeline.targets.entries import (
    ANY,
    COACH,
    SIDES,
    Bound,
    Layer,
    Scope,
    TargetEntry,
    athlete_key,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChosenBound:
    """A bound with the place that it was found at."""

    bound: Bound
    entry: TargetEntry
    place: Scope
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
        The bounds; None when no scope sets that side.
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
    """Give a written range for `pipeline.feedback.words.range_text`.

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
    """Give a bound as a number with its unit; or None."""
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
    parts = error_text(
        "bounds_contradict",
        low=written.low and written.low.words(),
        low_from=low.where(),
        high=written.high and written.high.words(),
        high_from=high.where(),
    )
    return strong.layer.file.error(*strong.entry.keys, **parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Targets:
    """All ranges, and the probabilities that decide between the words of a verdict.

    Attributes
    ----------
    inside_level, outside_level
        A value is in range when it is so with at least the first probability, and out of range
        when it is inside with at most the second.
    layers
        From the weakest to the strongest.
    """

    inside_level: float
    outside_level: float
    layers: tuple[Layer, ...]

    def chosen(
        self, move: str, level: str = ANY, hand: str | None = None, athlete: str | None = None
    ) -> dict[str, ChosenRange]:
        """Ranges by measure key, each bound from the strongest scope that sets it.

        Measures without any range are left out; those whose range was switched off are not.
        """
        places = list(_places(move, level, hand or ANY, athlete_key(athlete or ANY)))
        found: dict[str, ChosenRange] = {}
        for info in measures_with_range(move):
            bounds: dict[Side, ChosenBound] = {}
            for layer in self.layers:
                for place in places:
                    entry = layer.entries.get((place, info.key))
                    if entry is not None:
                        bounds |= _bounds(entry, place, layer)
            if bounds:
                found[info.key] = ChosenRange(
                    key=info.key, low=bounds.get("low"), high=bounds.get("high")
                )
        return found

    def for_athlete(
        self,
        move: str,
        level: str,
        stature_m: float,
        *,
        hand: str | None = None,
        athlete: str | None = None,
        arm: Arm | None = None,
        defender_arm: Arm | None = None,
    ) -> dict[str, TargetRange]:
        """Ranges for one rep of one athlete.

        Parameters
        ----------
        move, level
            Keys of the move and of the level of play.
        stature_m
            Stature in metres; NaN if it is not known.
        hand
            Stick hand of the rep; None if unknown; then no range for a hand holds.
        athlete
            Who it is; None for nobody in particular.
        arm, defender_arm
            As for `ChosenRange.in_unit`.

        Returns
        -------
        dict of str to TargetRange
            By measure key, bounds in the measure's own unit. A range that needs a length which is
            not known is left out, and so is one whose bounds contradict each other for this body
            (`check` reports those before any work is done).
        """
        chosen = self.chosen(move, level, hand, athlete)
        ranges = {
            key: range_.in_unit(stature_m, arm, defender_arm) for key, range_ in chosen.items()
        }
        return {key: range_ for key, range_ in ranges.items() if range_ and not is_reversed(range_)}

    def check(self, places: Iterable[Scope], *statures_m: float) -> None:
        """Raise `SettingsError` where bounds from two places contradict each other.

        Parameters
        ----------
        places
            For whom to look.
        statures_m
            Of the athlete. Of several, the bounds must contradict each other at all of them: a
            fraction and a number may well fit some bodies only. Nothing is known of a defender, so
            ranges in his arms are looked at for several statures only, as if they were his.
        """
        several = len(statures_m) > 1
        for place in places:
            for chosen in self.chosen(*place).values():
                ranges = [
                    chosen.in_unit(m, None, published_arm(m) if several else None)
                    for m in statures_m
                ]
                if all(range_ is not None and is_reversed(range_) for range_ in ranges):
                    raise contradiction(chosen)


def _bounds(entry: TargetEntry, place: Scope, layer: Layer) -> dict[Side, ChosenBound]:
    """Return the sides that an entry sets."""
    sides = {side: entry.bound(side) for side in SIDES}
    return {
        side: ChosenBound(bound=bound, entry=entry, place=place, layer=layer)
        for side, bound in sides.items()
        if bound is not None
    }


def _places(move: str, level: str, hand: str, athlete: str) -> Iterator[Scope]:
    """From the weakest place to the strongest, each once."""
    for athlete_ in dict.fromkeys((ANY, athlete)):
        for hand_ in dict.fromkeys((ANY, hand)):
            for level_ in dict.fromkeys((ANY, level)):
                yield Scope(move, level_, hand_, athlete_)
