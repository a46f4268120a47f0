"""The finders of all moves: importing this module registers them."""

from __future__ import annotations

from pipeline.moves import close_gap, dodge_detection, shots  # noqa: F401 - they register
from pipeline.moves.rep_finder import FINDERS as FINDERS  # noqa: PLC0414 - others have it from here
