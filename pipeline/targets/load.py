"""Target ranges: the shipped ones and, over them, a coach's own, and which version these are."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from datetime import datetime, timezone
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.core.files import data_folder
from pipeline.core.results import RangesUsed
from pipeline.settings.checks import STATURE_RANGE_M
from pipeline.targets.entries import ANY, COACH, SHIPPED, Layer, Scope
from pipeline.targets.lookup import Targets

if TYPE_CHECKING:
    from pipeline.targets.file import TargetsFile

SHIPPED_TARGETS = Path(__file__).parent / "targets.toml"
COACH_FILE = "targets.toml"


def coach_targets_path(named: Path | None = None) -> Path | None:
    """Return the coach's file: the one that was named, else that in the data folder if it is there.

    None means that the shipped ranges hold alone.
    """
    if named is not None:
        return named
    kept = data_folder() / COACH_FILE
    return kept if kept.exists() else None


def load_targets(path: Path | None = None) -> Targets:
    """Read the shipped ranges and, over them, a coach's own.

    Parameters
    ----------
    path
        A coach's file; None for the shipped ranges alone.

    Returns
    -------
    Targets
        A bound in the coach's file replaces the shipped one for the same measure.

    Raises
    ------
    SettingsError
        A file cannot be read or holds an entry that is not valid; names file, line and the
        nearest valid key.
    """
    # Here, not above: pydantic takes longer to load than all the rest of this module.
    from pipeline.targets.file import read_targets_file

    return targets_of(None if path is None else read_targets_file(path))


def targets_of(coach: TargetsFile | None) -> Targets:
    """Put a coach's file, which may not be written yet, over the shipped ranges.

    Raises
    ------
    SettingsError
        A bound contradicts one that it inherits, whatever the stature.
    """
    from pipeline.targets.file import read_targets_file

    files = {SHIPPED: read_targets_file(SHIPPED_TARGETS)}
    if coach is not None:
        files[COACH] = coach
    levels = {"inside_level": 0.95, "outside_level": 0.05}
    for file in files.values():
        levels.update(file.verdict_levels)
    layers = tuple(
        Layer(name=name, entries=file.entries, file=file.file) for name, file in files.items()
    )
    targets = Targets(**levels, layers=layers)
    if coach is not None:
        targets.check(places_of(targets), *STATURE_RANGE_M)
    return targets


def places_of(targets: Targets, athlete: str | None = None) -> Iterator[Scope]:
    """Everybody for whom the strongest file differs; of the athletes only one, if it is given."""
    named = [place for place, _ in targets.layers[-1].entries]
    athletes = {place.athlete for place in named} if athlete is None else {athlete}
    moves, levels, hands = ({place[i] for place in named} for i in range(3))
    for move, level, hand, person in product(
        sorted(moves), sorted(levels | {ANY}), sorted(hands | {ANY}), sorted(athletes | {ANY})
    ):
        yield Scope(move, level, hand, person)


def digest_of(text: str) -> str:
    """Name of a version of a file of ranges: the first 12 digits of its SHA-256."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:12]


def ranges_used(targets: Targets) -> RangesUsed:
    """Say which version of the ranges these are, and when that was made.

    The instant is that of the history beside the file; a file that was changed by hand since, or
    has no history, has that of its last change on disk.
    """
    from pipeline.targets.history import history_path, read_history

    layer = targets.layers[-1]
    digest = digest_of(layer.file.text)
    if layer.name == SHIPPED:
        return RangesUsed(source="shipped", digest=digest, changed=None)
    path = layer.file.path
    records = [r for r in read_history(history_path(path)) if r.digest == digest]
    if records:
        return RangesUsed(source="coach", digest=digest, changed=records[-1].at)
    try:
        changed = datetime.fromtimestamp(path.stat().st_mtime, tz=timezone.utc)
    except OSError:
        return RangesUsed(source="coach", digest=digest, changed=None)
    return RangesUsed(source="coach", digest=digest, changed=instant(changed))


def instant(when: datetime) -> str:
    """Write an instant in UTC, to the second."""
    return when.astimezone(timezone.utc).strftime("%Y-%m-%dT%H:%M:%SZ")
