"""Spans of rows in which something holds."""

from __future__ import annotations

import numpy as np

from pipeline.core.types import BoolArray


def runs(mask: BoolArray) -> list[tuple[int, int]]:
    """Start and stop (not included) of each run of true values.

    Examples
    --------
    >>> runs(np.array([False, True, True, False, True]))
    [(1, 3), (4, 5)]
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
