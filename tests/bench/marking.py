"""Marks on the field as a person would give them, from a clip's truth: clicked a little off."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import numpy as np

from calibration.marks_file import SCHEMA

CLICK_SPREAD_PX = 1.0
"""How far off a click is, in each direction (standard deviation), in a picture 1280 px wide."""
FEWEST_MARKS = 5


def write_marks(truth: dict[str, Any], folder: Path) -> Path | None:
    """Write a file of marks for a clip.

    Parameters
    ----------
    truth
        The clip's truth, with ``ground_marks``.
    folder
        Where to write it.

    Returns
    -------
    Path or None
        None where fewer than `FEWEST_MARKS` marks lie in the picture.
    """
    marks = truth.get("ground_marks", [])
    if len(marks) < FEWEST_MARKS:
        return None
    digest = hashlib.sha256(truth["clip"].encode()).digest()
    generator = np.random.default_rng(int.from_bytes(digest[:4], "big"))
    spread_px = CLICK_SPREAD_PX * max(truth["size_px"]) / 1280
    lines = [f'schema = "{SCHEMA}"', ""]
    for mark in marks:
        clicked = np.asarray(mark["image_px"]) + spread_px * generator.standard_normal(2)
        clicked = np.clip(clicked, 0.0, truth["size_px"])
        lines += [
            "[[marks]]",
            f'name = "{mark["name"]}"',
            f"field_m = {list(map(float, mark['field_m']))}",
            f"image_px = {[round(float(value), 1) for value in clicked]}",
            "",
        ]
    path = folder / f"{Path(truth['clip']).stem}.marks.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    return path
