"""A burst: the moment of greatest activity about which a rep may lie, and how far it may reach."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.core.types import Hand


@dataclass(frozen=True, slots=True, kw_only=True)
class Burst:
    """A moment that may be a rep, before its events are looked for.

    Attributes
    ----------
    frame
        Of a throw: the greatest speed of the top hand to the front and down. Of a dodge: the
        instant at which the way or the pace changes, or at which a defender is nearest.
    earliest, latest
        Frames between which the rep lies; `latest` is not included.
    hand
        Side of the top hand; None where it was not told.
    """

    frame: int
    earliest: int
    latest: int
    hand: Hand | None = None
