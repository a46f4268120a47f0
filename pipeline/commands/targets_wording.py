"""Texts of the commands on target ranges: ranges in force with sources, and history."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.commands.shared import plain
from pipeline.core.messages import Message, message
from pipeline.core.results import Side
from pipeline.feedback.words import Words, range_text
from pipeline.measures import MEASURES
from pipeline.targets.entries import ANY, SIDES
from pipeline.targets.history import Entry, Record
from pipeline.targets.lookup import ChosenBound, ChosenRange, Targets

Ranges = Mapping[str, Mapping[str, ChosenRange]]
"""By move and measure."""


def ranges_in_force(
    targets: Targets, moves: Sequence[str], level: str, hand: str | None, athlete: str | None
) -> Ranges:
    """Give the ranges of some moves for a player, without moves that have none."""
    found = {move: targets.chosen(move, level, hand, athlete) for move in moves}
    return {move: ranges for move, ranges in found.items() if ranges}


def ranges_text(ranges: Ranges, stature_m: float, words: Words) -> str:
    """List the ranges, one line each, followed by their sources."""
    lines = []
    for move, by_key in ranges.items():
        lines.append(move)
        width = max(len(key) for key in by_key)
        for key, chosen in by_key.items():
            lines.append(f"  {key:<{width}}  {_range_words(chosen, stature_m, words)}")
            lines += [f"  {'':<{width}}  {line}" for line in _from_lines(chosen, words)]
    return "\n".join(lines)


def ranges_json(ranges: Ranges, stature_m: float) -> list[dict[str, Any]]:
    """Give the ranges as JSON values, with the source of each bound."""
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


def history_text(records: Sequence[Record], words: Words) -> str:
    """List the changes, oldest first."""
    lines = []
    for record in records:
        action = words.texts.named("range_actions", record.action)
        head = f"{plain(record.at)}  {plain(record.digest)}  {plain(action)}"
        if record.action == "found":
            lines.append(f"{head}  {words.text('ranges_output.found')}")
            continue
        old, new = (words.translate(entry_words(entry)) for entry in (record.old, record.new))
        signed = words.text("ranges_output.signed", by=record.by, why=record.why)
        lines.append(f"{head}  {plain(words.translate(changed_words(record)))}")
        lines.append(f"    {old}  ->  {new}")
        lines.append(f"    {plain(signed)}")
    return "\n".join(lines)


def changed_words(record: Record) -> Message:
    """Name the changed range."""
    return message(
        "ranges_output.change",
        move=record.move,
        measure=record.measure,
        place=record.place.words(),
    )


def entry_words(entry: Entry | None) -> str:
    """Describe an entry of a ranges file as it is stored, without author and reason."""
    if entry is None:
        return message("ranges_output.nothing")
    written = (f"{key} = {value}" for key, value in entry.items() if key not in ("set_by", "why"))
    return plain(", ".join(written).replace("True", "true"))


def _range_words(chosen: ChosenRange, stature_m: float, words: Words) -> str:
    known = chosen.in_unit(stature_m)
    if known is None or all(side.bound.scale == "unit" for side in chosen.sides):
        return words.translate(chosen.words())
    in_unit = range_text(words, known)
    return words.text("ranges_output.in_unit", written=chosen.words(), range=in_unit)


def _from_lines(chosen: ChosenRange, words: Words) -> list[str]:
    sides = [(side, _side(chosen, side)) for side in SIDES]
    written = [(side, bound) for side, bound in sides if bound is not None]
    if len({id(bound.entry) for _, bound in written}) == 1:
        return [words.text("ranges_output.from", source=_source(written[0][1], words))]
    return [
        words.text(
            f"ranges_output.{side}_{'open' if bound.bound.value is None else 'from'}",
            source=_source(bound, words),
        )
        for side, bound in written
    ]


def _source(bound: ChosenBound, words: Words) -> str:
    by, why = words.ground(bound.entry.set_by), words.ground(bound.entry.why)
    return plain(words.text("ranges_output.source", place=bound.where(), by=by, why=why))


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
    """Give NaN for an unknown stature."""
    return math.nan if stature_m is None else stature_m
