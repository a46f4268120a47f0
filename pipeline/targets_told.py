"""What the commands on target ranges say: ranges in force and where from, and their history."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.chosen_range import ChosenBound, ChosenRange
from pipeline.command import plain
from pipeline.measures.table import MEASURES
from pipeline.result_types import TargetRange
from pipeline.target_entries import ANY, SIDES, Side
from pipeline.target_ranges import Targets
from pipeline.targets_history import Entry, Record

Ranges = Mapping[str, Mapping[str, ChosenRange]]
"""By move and measure."""


def ranges_in_force(
    targets: Targets, moves: Sequence[str], level: str, hand: str | None, athlete: str | None
) -> Ranges:
    """Give the ranges of some moves for somebody, moves without any left out."""
    found = {move: targets.chosen(move, level, hand, athlete) for move in moves}
    return {move: ranges for move, ranges in found.items() if ranges}


def ranges_text(ranges: Ranges, stature_m: float) -> str:
    """Say the ranges, one line each, and below it where they come from."""
    lines = []
    for move, by_key in ranges.items():
        lines.append(move)
        width = max(len(key) for key in by_key)
        for key, chosen in by_key.items():
            lines.append(f"  {key:<{width}}  {_range_words(chosen, stature_m)}")
            lines += [f"  {'':<{width}}  {line}" for line in _from_lines(chosen)]
    return "\n".join(lines)


def ranges_json(ranges: Ranges, stature_m: float) -> list[dict[str, Any]]:
    """Give the ranges as plain data, with where each bound comes from."""
    listed = []
    for move, by_key in ranges.items():
        for key, chosen in by_key.items():
            known = chosen.in_unit(stature_m)
            listed.append(
                {
                    "move": move,
                    "measure": key,
                    "unit": MEASURES[key].unit,
                    "words": chosen.words(),
                    "low": None if known is None else known.low,
                    "high": None if known is None else known.high,
                    **{f"{side}_from": _from_json(_side(chosen, side)) for side in SIDES},
                }
            )
    return listed


def history_text(records: Sequence[Record]) -> str:
    """Say the changes, oldest first."""
    lines = []
    for record in records:
        head = f"{plain(record.at)}  {plain(record.digest)}  {plain(record.action)}"
        if record.action == "found":
            lines.append(f"{head}  the file as it stood, written or changed by hand")
            continue
        what = f"{record.move} {record.measure}, {record.place.words()}"
        lines.append(f"{head}  {plain(what)}")
        lines.append(f"    {entry_words(record.old)}  ->  {entry_words(record.new)}")
        lines.append(f"    by {plain(record.by)}: {plain(record.why)}")
    return "\n".join(lines)


def entry_words(entry: Entry | None) -> str:
    """Say what a range in a file is, as it is written there, without who set it and why."""
    if entry is None:
        return "nothing"
    said = (f"{key} = {value}" for key, value in entry.items() if key not in ("set_by", "why"))
    return plain(", ".join(said).replace("True", "true"))


def _range_words(chosen: ChosenRange, stature_m: float) -> str:
    words = chosen.words()
    known = chosen.in_unit(stature_m)
    is_fraction = any(side.bound.scale != "unit" for side in chosen.sides)
    return f"{words} = {_in_unit(known)}" if known is not None and is_fraction else words


def _in_unit(range_: TargetRange) -> str:
    low, high = (None if bound is None else f"{bound:.2f}" for bound in (range_.low, range_.high))
    if low is None or high is None:
        return f"at least {low} {range_.unit}" if high is None else f"at most {high} {range_.unit}"
    return f"{low} to {high} {range_.unit}"


def _from_lines(chosen: ChosenRange) -> list[str]:
    sides = [(side, _side(chosen, side)) for side in SIDES]
    told = [(side, bound) for side, bound in sides if bound is not None]
    if len({id(bound.entry) for _, bound in told}) == 1:
        return [f"from {_source(told[0][1])}"]
    return [
        f"{side + (' open' if bound.bound.value is None else '')}: from {_source(bound)}"
        for side, bound in told
    ]


def _source(bound: ChosenBound) -> str:
    return plain(f"{bound.where()} ({bound.entry.set_by}: {bound.entry.why})")


def _side(chosen: ChosenRange, side: Side) -> ChosenBound | None:
    return chosen.low if side == "low" else chosen.high


def _from_json(bound: ChosenBound | None) -> dict[str, Any] | None:
    if bound is None:
        return None
    place = bound.place
    return {
        "source": bound.layer.name,
        "level": place.level,
        "hand": place.hand,
        "athlete": None if place.athlete == ANY else place.athlete,
        "written": bound.bound.value,
        "scale": bound.bound.scale,
        "no_range": bound.entry.no_range,
        "set_by": bound.entry.set_by,
        "why": bound.entry.why,
    }


def stature_or_nan(stature_m: float | None) -> float:
    """Give NaN for a stature that was not told."""
    return math.nan if stature_m is None else stature_m
