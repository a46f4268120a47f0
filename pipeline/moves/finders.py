"""The finders of all moves: importing this module registers them."""

from __future__ import annotations

from pipeline import dodge_finding, dodges, pass_events, shot_events  # noqa: F401 - they register
from pipeline.rep_finder import FINDERS as FINDERS  # noqa: PLC0414 - others have it from here
