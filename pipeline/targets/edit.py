"""Changes one range in the text of a file of ranges, and leaves everything else as it stands."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from typing import Any

from pipeline.core.errors import SettingsError, error_text
from pipeline.core.toml_file import TomlFile, parse_toml
from pipeline.targets.entries import ANY, Scope, athlete_key
from pipeline.targets.file import ATHLETE, keys_of

_REMOVED = "removed_by_this_change"

HEADING = "# Target ranges of the coach; everything else is as shipped.\n"


def keys_in(file: TomlFile, place: Scope, key: str) -> tuple[str, ...]:
    """Nested keys of an entry, the athlete's name in the spelling that the file has already."""
    names = file.table.get(ATHLETE, {})
    same = [name for name in names if athlete_key(name) == athlete_key(place.athlete)]
    return keys_of(place, key, athlete=same[0] if same else None)


def entry_in(file: TomlFile, place: Scope, key: str) -> dict[str, Any] | None:
    """Return the file's entry of one measure in one scope, or None."""
    node: Any = file.table
    for name in keys_in(file, place, key):
        if name not in node:
            return None
        node = node[name]
    return dict(node)


def with_entry(file: TomlFile, place: Scope, key: str, new: Mapping[str, Any] | None) -> str:
    """Give the text of the file with one entry changed, added, or (None) taken out.

    Comments, order and layout of all the rest are kept. A new entry goes to the end.

    Raises
    ------
    SettingsError
        The file is laid out in a way in which that cannot be done without loss.
    """
    from tomlkit.exceptions import TOMLKitError

    keys = keys_in(file, place, key)
    old = entry_in(file, place, key)
    try:
        if old is None:
            text = file.text if new is None else _added(file.text, keys, new)
        else:
            text = _changed(file.text, keys, new)
        _check_rest(file, text, keys, new)
    except (TOMLKitError, KeyError, AttributeError, SettingsError) as error:
        raise file.error(*keys, **error_text("range_not_apart", header=_header(keys))) from error
    return text


def merged_entry(
    old: Mapping[str, Any] | None, new: Mapping[str, Any], *, by: str, why: str
) -> dict[str, Any] | None:
    """Put new bounds over what stands there.

    Parameters
    ----------
    old
        The range as it stands in the file, or None.
    new
        By side (``low``, ``high``): key and value of the bound, or None to inherit it; or
        ``no_range``.
    by, why
        Who sets it and on what ground.

    Returns
    -------
    dict or None
        The table for the file; None when nothing is left.
    """
    signed = {"set_by": by, "why": why}
    if "no_range" in new:
        return {"no_range": True, **signed}
    kept = {
        key: value
        for key, value in (old or {}).items()
        if key.split("_")[0] in ("low", "high") and key.split("_")[0] not in new
    }
    given = dict(bound for bound in new.values() if bound is not None)
    bounds = {**kept, **given}
    ordered = {key: bounds[key] for key in sorted(bounds, key=lambda key: key.startswith("high"))}
    return {**ordered, **signed} if ordered else None


def _added(text: str, keys: tuple[str, ...], new: Mapping[str, Any]) -> str:
    import tomlkit

    entry = tomlkit.document()
    for name, value in new.items():
        entry.add(name, value)
    before = text or HEADING
    gap = "" if before.endswith("\n") else "\n"
    return f"{before}{gap}\n[{_header(keys)}]\n{tomlkit.dumps(entry)}"


def _changed(text: str, keys: tuple[str, ...], new: Mapping[str, Any] | None) -> str:
    import tomlkit
    from tomlkit.items import Table

    document = tomlkit.parse(text)
    node: Any = document
    for name in keys[:-1]:
        node = node[name]
    entry = node[keys[-1]]
    if new is None and not isinstance(entry, Table):
        del node[keys[-1]]
        return tomlkit.dumps(document)
    wanted = {_REMOVED: True} if new is None else new
    below = _trailing(entry)
    for name in [name for name in entry if name not in wanted]:
        del entry[name]
    for name, value in wanted.items():
        if name not in entry or entry[name] != value:
            entry[name] = value
    for item in below:
        entry.add(item)
    return _without_removed(tomlkit.dumps(document)) if new is None else tomlkit.dumps(document)


def _trailing(entry: Any) -> list[Any]:  # noqa: ANN401 - what tomlkit gives
    """Take blank lines and comments off the end of a table: they belong to what comes next."""
    body = entry.value.body if hasattr(entry.value, "body") else []
    trailing: list[Any] = []
    while body and body[-1][0] is None:
        trailing.insert(0, body.pop()[1])
    return trailing


def _without_removed(text: str) -> str:
    """Take out the header and the only line of the entry that is to go; comments stay."""
    lines = text.splitlines(keepends=True)
    at = next((i for i, line in enumerate(lines) if line.startswith(_REMOVED)), 0)
    headers = [i for i in range(at) if lines[i].lstrip().startswith("[")]
    if not headers:
        raise KeyError(_REMOVED)  # written with dots in its keys
    header = headers[-1]
    return "".join(line for i, line in enumerate(lines) if i not in (header, at))


def _check_rest(
    file: TomlFile, text: str, keys: tuple[str, ...], new: Mapping[str, Any] | None
) -> None:
    """Raise `SettingsError` or `KeyError` if any other entry changed."""
    wanted = deepcopy(file.table)
    node = wanted
    for name in keys[:-1]:
        node = node.setdefault(name, {})
    if new is None:
        node.pop(keys[-1], None)
    else:
        node[keys[-1]] = dict(new)
    if _without_empty(wanted) != _without_empty(parse_toml(file.path, text).table):
        raise KeyError(keys[-1])


def _without_empty(table: dict[str, Any]) -> dict[str, Any]:
    """Leave out empty tables."""
    kept = {
        name: _without_empty(value) if isinstance(value, dict) else value
        for name, value in table.items()
    }
    return {name: value for name, value in kept.items() if value != {}}


def _header(keys: tuple[str, ...]) -> str:
    import tomlkit

    athlete = keys[1] if keys[0] == ATHLETE else ANY
    quoted = tomlkit.item(athlete).as_string()
    return ".".join(quoted if keys[0] == ATHLETE and i == 1 else k for i, k in enumerate(keys))
