"""Settings of an analysis as text, so that the film can be measured again as it was."""

from __future__ import annotations

import json
from dataclasses import asdict, fields
from pathlib import Path
from typing import Any

from pipeline.settings.settings import AnalysisSettings

_PATHS = ("model_path", "lens_path", "marks_path", "targets_path")


def settings_text(settings: AnalysisSettings) -> str:
    """Write settings as JSON; files by their whole paths."""
    table = asdict(settings)
    for name in _PATHS:
        path: Path | None = table[name]
        table[name] = None if path is None else str(path.resolve())
    return json.dumps(table, sort_keys=True)


def settings_of_text(text: str) -> AnalysisSettings:
    """Read settings that `settings_text` wrote; names of other versions are passed over.

    Raises
    ------
    ValueError
        It is something else.
    """
    try:
        table: dict[str, Any] = dict(json.loads(text))
        known = {field.name: table[field.name] for field in fields(AnalysisSettings)
                 if field.name in table}  # fmt: skip
        for name in _PATHS:
            known[name] = None if known.get(name) is None else Path(known[name])
        if known.get("athlete_at") is not None:
            x, y = known["athlete_at"]
            known["athlete_at"] = (float(x), float(y))
        return AnalysisSettings(**known)
    except (TypeError, ValueError, AttributeError) as error:
        raise ValueError("not the settings of an analysis") from error
