"""What is measured in a rep: each measure is one decorated function in a module of this folder."""

from __future__ import annotations

from pipeline.measures import (  # noqa: F401 - importing them registers their measures
    angles,
    dodging,
    hands,
    plant_leg,
    spacing,
    steps,
)
from pipeline.measures.registry import (
    MEASURES,
    MeasureInfo,
    measures_of,
    measures_with_range,
    unit_word_of,
)

__all__ = ["MEASURES", "MeasureInfo", "measures_of", "measures_with_range", "unit_word_of"]
