"""Progress that a long step reports to its caller; only the command line prints."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How far a step has come.

    Attributes
    ----------
    stage
        What is being done: a name in the section ``terminal`` of the words, such as
        ``"following_players"``.
    done
        Number of frames done.
    total
        Number of frames in all; None when the file does not state it.
    """

    stage: str
    done: int
    total: int | None


ProgressCallback = Callable[[Progress], None]
"""Takes a `Progress`; called from the analysing thread, often, and has to return at once."""


def ignore_progress(progress: Progress) -> None:
    """Take a `Progress` and do nothing with it: the default for callers that do not watch."""
    del progress
