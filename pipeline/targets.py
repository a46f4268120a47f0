"""Target ranges: the shipped ones and, over them, a coach's own."""

from __future__ import annotations

from pathlib import Path

from pipeline.target_ranges import Targets

SHIPPED_TARGETS = Path(__file__).parent / "data" / "targets.toml"


def load_targets(path: Path | None = None) -> Targets:
    """Read the shipped ranges and, over them, a coach's own.

    Parameters
    ----------
    path
        A coach's file; None for the shipped ranges alone.

    Returns
    -------
    Targets
        A range in the coach's file replaces the shipped one for the same measure.

    Raises
    ------
    SettingsError
        A file cannot be read or says something that cannot be meant; names file, line and the
        nearest valid key.
    """
    # Here, not above: pydantic takes longer to load than all the rest of this module.
    from pipeline.targets_file import read_targets_file

    shipped = read_targets_file(SHIPPED_TARGETS)
    files = (shipped,) if path is None else (shipped, read_targets_file(path))
    levels = {"inside_level": 0.95, "outside_level": 0.05}
    for file in files:
        levels.update(file.verdict_levels)
    return Targets(**levels, layers=tuple(file.entries for file in files))
