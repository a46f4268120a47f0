"""Target ranges as data: what a coach asks of each measure, by move, level, hand and athlete.

The order of strength
---------------------
A bound is looked up from the weakest place to the strongest, and each place that says something
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

from pipeline.core.results import TargetRange
from pipeline.core.session_results import Side
from pipeline.measures import measures_with_range
from pipeline.targets.arm_lengths import Arm, published_arm
from pipeline.targets.entries import ANY, SIDES, Layer, Place, TargetEntry, athlete_key
from pipeline.targets.range_choice import ChosenBound, ChosenRange, contradiction, is_reversed


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
        """Ranges by measure key, each bound from the strongest place that says something of it.

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
            Stick hand of the rep; None if it could not be told, and then no range for a hand holds.
        athlete
            Who it is; None for nobody in particular.
        arm, defender_arm
            As for `ChosenRange.in_unit`.

        Returns
        -------
        dict of str to TargetRange
            By measure key, bounds in the measure's own unit. A range that needs a length which is
            not known is left out, and so is one whose bounds contradict each other for this body
            (`check` tells of those before any work is done).
        """
        chosen = self.chosen(move, level, hand, athlete)
        ranges = {
            key: range_.in_unit(stature_m, arm, defender_arm) for key, range_ in chosen.items()
        }
        return {key: range_ for key, range_ in ranges.items() if range_ and not is_reversed(range_)}

    def check(self, places: Iterable[Place], *statures_m: float) -> None:
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


def _bounds(entry: TargetEntry, place: Place, layer: Layer) -> dict[Side, ChosenBound]:
    """Give the sides that an entry says something of."""
    said = {side: entry.bound(side) for side in SIDES}
    return {
        side: ChosenBound(bound=bound, entry=entry, place=place, layer=layer)
        for side, bound in said.items()
        if bound is not None
    }


def _places(move: str, level: str, hand: str, athlete: str) -> Iterator[Place]:
    """From the weakest place to the strongest, each once."""
    for athlete_ in dict.fromkeys((ANY, athlete)):
        for hand_ in dict.fromkeys((ANY, hand)):
            for level_ in dict.fromkeys((ANY, level)):
                yield Place(move, level_, hand_, athlete_)
