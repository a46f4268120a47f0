"""A file of target ranges: for whom each is, read with every name and entry in it checked."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from pipeline.core.errors import SettingsError, error_text
from pipeline.core.messages import Message, message, shipped
from pipeline.core.results import Side
from pipeline.core.toml_file import TomlFile, nearest, read_toml
from pipeline.measures import MeasureInfo, measures_with_range
from pipeline.settings.checks import LEVELS, STATURE_RANGE_M, check_athlete, known_move_names
from pipeline.targets.entries import ANY, Bound, Scale, Scope, TargetEntry, athlete_key

_Number = Annotated[float, Field(allow_inf_nan=False)]
_Probability = Annotated[float, Field(ge=0.0, le=1.0)]
_Text = Annotated[str, Field(min_length=1)]

ARM_OF_STATURE = 0.45
"""Approximate; only used to find bounds that contradict each other."""


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


_Model = TypeVar("_Model", bound=_Strict)


class Head(_Strict):
    """What stands above the ranges: who set them, and the levels of the verdict."""

    set_by: _Text | None = None
    why: _Text | None = None
    inside_level: _Probability | None = None
    outside_level: _Probability | None = None


class _Range(_Strict):
    """One range, in every unit in which one may be written."""

    low_m: _Number | None = None
    high_m: _Number | None = None
    low_of_stature: _Number | None = None
    high_of_stature: _Number | None = None
    low_of_arm: _Number | None = None
    high_of_arm: _Number | None = None
    low_s: _Number | None = None
    high_s: _Number | None = None
    low_deg: _Number | None = None
    high_deg: _Number | None = None
    low_mps: _Number | None = None
    high_mps: _Number | None = None
    low_dps: _Number | None = None
    high_dps: _Number | None = None
    low_ratio: _Number | None = None
    high_ratio: _Number | None = None
    low_count: int | None = None
    high_count: int | None = None
    low: Literal["open"] | None = None
    high: Literal["open"] | None = None
    no_range: bool = False
    set_by: _Text | None = None
    why: _Text | None = None


def read_entry(
    file: TomlFile, place: tuple[str, ...], table: dict[str, Any], info: MeasureInfo, head: Head
) -> TargetEntry:
    """One checked range."""
    fitting = _fitting_keys(info)
    for name in table:
        if name in _Range.model_fields and name not in fitting:
            unit, keys = message(f"unit_names.{info.unit_word}"), _meant(name, fitting)
            wrong_text = error_text("bound_in_other_unit", measure=info.key, unit=unit, keys=keys)
            raise file.error(*place, name, **wrong_text)
    written = checked(file, place, table, _Range, only=fitting)
    low, low_name = _bound(file, place, written, info, "low")
    high, high_name = _bound(file, place, written, info, "high")
    if written.no_range != (low is None and high is None):
        keys = ", ".join(name for name in fitting if name.startswith(("low_", "high_")))
        wrong = "bound_and_no_range" if written.no_range else "neither_bound_nor_no_range"
        raise file.error(*place, **error_text(wrong, keys=keys))
    if low is not None and high is not None and _is_above(low, high):
        wrong_text = error_text(
            "range_reversed", low_key=low_name, low=f"{low.value:g}", high_key=high_name,
            high=f"{high.value:g}",
        )  # fmt: skip
        raise file.error(*place, low_name, **wrong_text)
    set_by, why = written.set_by or head.set_by, written.why or head.why
    for name, signed in (("set_by", set_by), ("why", why)):
        if signed is None:
            raise file.error(*place, **error_text("range_unsigned", entry=name))
    assert set_by is not None  # checked above; for the type checker
    assert why is not None
    return TargetEntry(
        key=info.key, keys=place, low=low, high=high, set_by=set_by, why=why,
        no_range=written.no_range,
    )  # fmt: skip


def _bound(
    file: TomlFile, place: tuple[str, ...], written: _Range, info: MeasureInfo, side: Side
) -> tuple[Bound | None, str]:
    """One bound, None if it is not set, and the key it was written with."""
    scales: dict[str, Scale] = {
        f"{side}_{info.unit_word}": "unit",
        f"{side}_of_stature": "of_stature",
        f"{side}_of_arm": "of_arm",
    }
    found = [name for name in (*scales, side) if getattr(written, name) is not None]
    if len(found) > 1:
        raise file.error(
            *place, found[0], **error_text("bound_twice", one=found[0], other=found[1])
        )
    if not found:
        return None, ""
    if found == [side]:
        return Bound(value=None), side
    return Bound(value=float(getattr(written, found[0])), scale=scales[found[0]]), found[0]


def _is_above(low: Bound, high: Bound) -> bool:
    if low.value is None or high.value is None:
        return False
    if low.scale == high.scale:
        return low.value > high.value
    # Linear in the stature: what is reversed at both ends of what is possible is so everywhere.
    for stature_m in STATURE_RANGE_M:
        metres = {"unit": 1.0, "of_stature": stature_m, "of_arm": ARM_OF_STATURE * stature_m}
        if low.value * metres[low.scale] <= high.value * metres[high.scale]:
            return False
    return True


def bound_keys(info: MeasureInfo, side: Side) -> tuple[str, ...]:
    """Keys by which one bound of a measure may be written: its unit, a fraction of a length, open.

    The defender's arm has no bound in arm lengths: it would be measured by itself.
    """
    fractions: tuple[str, ...] = (
        (f"{side}_of_stature", f"{side}_of_arm") if info.unit == "m" else ()
    )
    if info.arm_of == "nobody":
        fractions = fractions[:1]
    return (f"{side}_{info.unit_word}", *fractions, side)


def _fitting_keys(info: MeasureInfo) -> tuple[str, ...]:
    bounds = zip(bound_keys(info, "low"), bound_keys(info, "high"), strict=True)
    return (*(name for pair in bounds for name in pair), "no_range", "set_by", "why")


def _meant(name: str, fitting: Sequence[str]) -> str:
    """Say which keys fit the same side of the range."""
    side = name.partition("_")[0]
    same_side = [key for key in fitting if key.startswith(f"{side}_")]
    return reduce(_either, same_side or fitting)


def _either(one: str, other: str) -> str:
    return message("range_faults.either", one=one, other=other)


def checked(
    file: TomlFile,
    place: tuple[str, ...],
    table: dict[str, Any],
    model: type[_Model],
    *,
    also: tuple[str, ...] = (),
    only: tuple[str, ...] | None = None,
) -> _Model:
    """Validate a table, reporting the first mistake with its line."""
    try:
        return model.model_validate(table)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        keys = (*place, *(str(part) for part in first["loc"]))
        if first["type"] == "extra_forbidden":
            near = nearest(keys[-1], only or (*model.model_fields, *also))
            wrong_text = error_text(
                "no_such_range_key", what=message("range_faults.no_key"), nearest=near
            )
            raise file.error(*keys, **wrong_text) from error
        # The library speaks English only: each kind of fault has a text of its own.
        fault = str(first["type"])
        known = fault in shipped().table["range_faults"]
        must = message(f"range_faults.{fault}") if known else first["msg"]
        wrong = "range_value_wrong" if place else "verdict_level_wrong"
        raise file.error(*keys, **error_text(wrong, must=must, got=repr(first["input"]))) from error


HANDS = ("left", "right")
ATHLETE = "athlete"
"""Name of the table that holds what is for one athlete, by name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetsFile:
    """One checked file.

    Attributes
    ----------
    verdict_levels
        ``inside_level`` and ``outside_level`` where the file sets them.
    entries
        By place and measure key.
    file
        The file itself.
    """

    verdict_levels: Mapping[str, float]
    entries: Mapping[tuple[Scope, str], TargetEntry]
    file: TomlFile


def read_targets_file(path: Path) -> TargetsFile:
    """Read and check one file of ranges.

    Parameters
    ----------
    path
        The TOML file.

    Returns
    -------
    TargetsFile
        Its ranges.

    Raises
    ------
    SettingsError
        An unknown key, a unit that is not the measure's, a reversed range, a value of the wrong
        kind, or a range nobody stands for; names file, line, entry and the nearest valid key.
    """
    return check_targets_file(read_toml(path))


def check_targets_file(file: TomlFile) -> TargetsFile:
    """Check a file of ranges; as `read_targets_file`, for text that was already read."""
    known = known_move_names()
    named = (*known, ATHLETE)
    above = {name: value for name, value in file.table.items() if name not in named}
    head = checked(file, (), above, Head, also=named)
    if (head.inside_level or 0.95) <= (head.outside_level or 0.05):
        level = "inside_level" if head.inside_level is not None else "outside_level"
        raise file.error(level, **error_text("verdict_levels_reversed"))
    moves = {name: value for name, value in file.table.items() if name in known}
    entries = _entries(file, (), moves, ANY, head, known)
    names: dict[str, str] = {}
    for name, table in _tables(file, (ATHLETE,), file.table.get(ATHLETE, {})):
        _check_name(file, name, names)
        entries |= _entries(file, (ATHLETE, name), table, athlete_key(name), head, known)
    levels = {"inside_level": head.inside_level, "outside_level": head.outside_level}
    return TargetsFile(
        verdict_levels={name: level for name, level in levels.items() if level is not None},
        entries=entries,
        file=file,
    )


def keys_of(place: Scope, key: str, *, athlete: str | None = None) -> tuple[str, ...]:
    """Nested keys of an entry in a file, with the athlete's name as it is written there."""
    person = () if place.athlete == ANY else (ATHLETE, athlete or place.athlete)
    hand = () if place.hand == ANY else (place.hand,)
    return (*person, place.move, place.level, *hand, key)


def _entries(
    file: TomlFile,
    above: tuple[str, ...],
    table: dict[str, Any],
    athlete: str,
    head: Head,
    known: Collection[str],
) -> dict[tuple[Scope, str], TargetEntry]:
    """All ranges for anyone, or those for one athlete."""
    found = {}
    no_move, no_level = message("range_faults.no_move"), message("range_faults.no_level")
    for move, levels in _tables(file, above, table, known, no_move):
        infos = {info.key: info for info in measures_with_range(move)}
        unknown = message("range_faults.no_measure", move=move)
        for level, ranges in _tables(file, (*above, move), levels, LEVELS, no_level):
            keys = (*above, move, level)
            for name, below in _tables(file, keys, ranges, (*infos, *HANDS), unknown):
                inside = [(name, below)]
                if name in HANDS:
                    inside = _tables(file, (*keys, name), below, infos, unknown)
                hand, place = (name, (*keys, name)) if name in HANDS else (ANY, keys)
                for key, written in inside:
                    entry = read_entry(file, (*place, key), written, infos[key], head)
                    found[Scope(move, level, hand, athlete), key] = entry
    return found


def _tables(
    file: TomlFile,
    place: tuple[str, ...],
    table: object,
    allowed: Collection[str] | None = None,
    unknown: Message | None = None,
) -> list[tuple[str, dict[str, Any]]]:
    """Sub-tables of a table, each name being one of the allowed ones if there is a list of them."""
    if not isinstance(table, dict):
        raise file.error(*place, **error_text("not_a_range_table"))
    for name, below in table.items():
        if allowed is not None and name not in allowed:
            near = nearest(name, allowed)
            raise file.error(
                *place, name, **error_text("no_such_range_key", what=unknown, nearest=near)
            )
        if not isinstance(below, dict):
            raise file.error(*place, name, **error_text("not_a_range_table"))
    return list(table.items())


def _check_name(file: TomlFile, name: str, names: dict[str, str]) -> None:
    """Raise `SettingsError` for an invalid name, or one that stands there in another spelling."""
    try:
        check_athlete(name, named=name)
    except SettingsError as error:  # only now its line, which takes a look at the whole file
        wrong_text = error_text("not_an_athlete", do=error.what_to_do)
        raise file.error(ATHLETE, name, **wrong_text) from error
    other = names.setdefault(athlete_key(name), name)
    if other != name:
        raise file.error(ATHLETE, name, **error_text("same_athlete", other=other))
