"""Crossemetry's program: one module per step, from a clip file to words a player can use."""

import importlib

__version__ = "0.1.0"

# Loaded on first use, so that `import pipeline` is quick; __init__.pyi has their types.
_LATER = {
    "analyse": "pipeline.api",
    "Analysis": "pipeline.core.results",
    "CrossemetryError": "pipeline.core.errors",
    "Measurement": "pipeline.core.results",
    "RepResult": "pipeline.core.results",
    "Verdict": "pipeline.core.results",
}
__all__ = ["__version__", *_LATER]  # noqa: PLE0604 - all of them are text


def __getattr__(name: str) -> object:
    if name not in _LATER:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(importlib.import_module(_LATER[name]), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
