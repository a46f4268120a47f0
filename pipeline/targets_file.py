"""The form of a targets file: what may stand in it, and what is said when something may not."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from pipeline.measures.table import MeasureInfo, known_moves, measures_of
from pipeline.settings import LEVELS
from pipeline.target_ranges import Bound, TargetEntry
from pipeline.toml_file import TomlFile, nearest, read_toml

_Number = Annotated[float, Field(allow_inf_nan=False)]
_Probability = Annotated[float, Field(ge=0.0, le=1.0)]
_Text = Annotated[str, Field(min_length=1)]

_UNIT_NAMES = {
    "m": "metres",
    "s": "seconds",
    "deg": "degrees",
    "mps": "metres per second",
    "dps": "degrees per second",
}
_RANGE_KEYS = (
    "low_m", "high_m", "low_of_stature", "high_of_stature", "low_s", "high_s", "low_deg",
    "high_deg", "low_mps", "high_mps", "low_dps", "high_dps", "low_ratio", "high_ratio",
    "low_count", "high_count", "no_range", "set_by", "why",
)  # fmt: skip


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


_Model = TypeVar("_Model", bound=_Strict)


class _Head(_Strict):
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
    no_range: bool = False
    set_by: _Text | None = None
    why: _Text | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetsFile:
    """One checked file.

    Attributes
    ----------
    verdict_levels
        ``inside_level`` and ``outside_level`` where the file sets them.
    entries
        ``move -> level -> measure key -> entry``.
    """

    verdict_levels: Mapping[str, float]
    entries: Mapping[str, Mapping[str, Mapping[str, TargetEntry]]]


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
    file = read_toml(path)
    moves = known_moves()
    head = _checked(
        file, (), {k: v for k, v in file.table.items() if k not in moves}, _Head, also=moves
    )
    if (head.inside_level or 0.95) <= (head.outside_level or 0.05):
        raise file.error(
            "inside_level" if head.inside_level is not None else "outside_level",
            wrong="inside_level must be above outside_level.",
            what_to_do="The usual levels are 0.95 and 0.05.",
        )
    entries: dict[str, dict[str, dict[str, TargetEntry]]] = {}
    for move in moves:
        for level, ranges in _tables(file, (move,), LEVELS):
            infos = {info.key: info for info in measures_of(move)}
            for key, table in _tables(file, (move, level), infos, within=ranges):
                entry = _entry(file, (move, level, key), table, infos[key], head)
                entries.setdefault(move, {}).setdefault(level, {})[key] = entry
    levels = {"inside_level": head.inside_level, "outside_level": head.outside_level}
    return TargetsFile(
        verdict_levels={name: level for name, level in levels.items() if level is not None},
        entries=entries,
    )


def _tables(
    file: TomlFile,
    place: tuple[str, ...],
    allowed: Collection[str],
    within: Mapping[str, Any] | None = None,
) -> list[tuple[str, dict[str, Any]]]:
    """Sub-tables below a place, each name being one of the allowed ones."""
    table = file.table.get(place[0], {}) if within is None else within
    if not isinstance(table, dict):
        raise file.error(*place, wrong="must be a table.", what_to_do=_example())
    for name, below in table.items():
        if name not in allowed:
            what = "level" if len(place) == 1 else f"measure of {place[0]}"
            raise file.error(
                *place, name, wrong=f"no such {what}.", what_to_do=nearest(name, allowed)
            )
        if not isinstance(below, dict):
            raise file.error(*place, name, wrong="must be a table.", what_to_do=_example())
    return list(table.items())


def _entry(
    file: TomlFile, place: tuple[str, ...], table: dict[str, Any], info: MeasureInfo, head: _Head
) -> TargetEntry:
    """One checked range."""
    fitting = _fitting_keys(info)
    for name in table:
        if name in _RANGE_KEYS and name not in fitting:
            unit = _UNIT_NAMES.get(info.unit_word, f"a {info.unit_word}")
            raise file.error(
                *place, name, wrong=f"{info.key} is in {unit}.", what_to_do=_meant(name, fitting)
            )
    written = _checked(file, place, table, _Range, only=fitting)
    low, low_name, low_in = _bound(file, place, written, info, "low")
    high, high_name, high_in = _bound(file, place, written, info, "high")
    if written.no_range != (low is None and high is None):
        wrong = "no_range and a bound." if written.no_range else "no bound."
        names = ", ".join(name for name in fitting if name.startswith(("low", "high")))
        raise file.error(*place, wrong=wrong, what_to_do=f"Give {names}, or no_range = true.")
    # A stature of 0.8 to 2.4 m is possible; bounds in different units are compared at the middle.
    if low is not None and high is not None:
        scale = {"unit": 1.0, "of_stature": 1.0 if low_in == high_in else 1.6}
        if low * scale[low_in] > high * scale[high_in]:
            raise file.error(
                *place,
                low_name,
                wrong=f"reversed range: {low_name} = {low:g} is above {high_name} = {high:g}.",
                what_to_do="Swap the two.",
            )
    set_by, why = written.set_by or head.set_by, written.why or head.why
    for name, said in (("set_by", set_by), ("why", why)):
        if said is None:
            raise file.error(
                *place,
                wrong=f"{name} is missing.",
                what_to_do=f'Add {name} = "..." here, or once at the top of the file.',
            )
    assert set_by is not None  # checked above; tells the type checker
    assert why is not None
    return TargetEntry(
        key=info.key, low=low, high=high, low_in=low_in, high_in=high_in,
        set_by=set_by, why=why, no_range=written.no_range,
    )  # fmt: skip


def _bound(
    file: TomlFile, place: tuple[str, ...], written: _Range, info: MeasureInfo, side: str
) -> tuple[float | None, str, Bound]:
    """Value of one bound, the key it was written with, and what it is in."""
    own = f"{side}_{info.unit_word}"
    value = getattr(written, own)
    of_stature = getattr(written, f"{side}_of_stature")
    if value is not None and of_stature is not None:
        raise file.error(
            *place,
            own,
            wrong=f"{own} and {side}_of_stature are the same bound twice.",
            what_to_do="Keep one of them.",
        )
    if of_stature is not None:
        return of_stature, f"{side}_of_stature", "of_stature"
    return (None if value is None else float(value)), own, "unit"


def _fitting_keys(info: MeasureInfo) -> tuple[str, ...]:
    bounds: tuple[str, ...] = (f"low_{info.unit_word}", f"high_{info.unit_word}")
    if info.unit == "m":
        bounds += ("low_of_stature", "high_of_stature")
    return (*bounds, "no_range", "set_by", "why")


def _meant(name: str, fitting: tuple[str, ...]) -> str:
    """Say which key fits the same side of the range."""
    side = name.partition("_")[0]
    same_side = [key for key in fitting if key.startswith(side)]
    return f"Did you mean {' or '.join(same_side or fitting)}?"


def _checked(
    file: TomlFile,
    place: tuple[str, ...],
    table: dict[str, Any],
    model: type[_Model],
    *,
    also: tuple[str, ...] = (),
    only: tuple[str, ...] | None = None,
) -> _Model:
    """Validate a table, the first mistake being told by line."""
    try:
        return model.model_validate(table)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        keys = (*place, *(str(part) for part in first["loc"]))
        if first["type"] == "extra_forbidden":
            allowed = only or (*model.model_fields, *also)
            raise file.error(
                *keys, wrong="unknown key.", what_to_do=nearest(keys[-1], allowed)
            ) from error
        raise file.error(
            *keys,
            wrong=f"{first['msg']}, but got {first['input']!r}.",
            what_to_do=_example() if place else "Levels are probabilities, e.g. 0.95 and 0.05.",
        ) from error


def _example() -> str:
    return "For example: [throwback_pass.youth.step_back_m] with low_m = 0.4 below it."
