"""Text and numbers as a TOML file writes them."""

from __future__ import annotations

import json
from collections.abc import Iterable


def quoted(words: str) -> str:
    """Quote a string: TOML escapes as JSON does, but for the delete sign."""
    return json.dumps(words, ensure_ascii=False).replace("\x7f", "\\u007F")


def listed(numbers: Iterable[float]) -> str:
    """Write numbers as a list, each so that it is read back as the very same."""
    return f"[{', '.join(repr(float(number)) for number in numbers)}]"
