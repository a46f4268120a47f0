"""All sets of clips by their names."""

from __future__ import annotations

from collections.abc import Callable

from . import (
    check_set,
    drawn_set,
    hard_set,
    moves_set,
    sample_set,
    season_set,
    training_set,
    tuning_set,
)
from .entry import ClipEntry


def table(set_name: str, seed: int = 0) -> tuple[ClipEntry, ...]:
    """Return the entries of a set.

    The sets are ``sample``, ``training``, ``test``, ``check``, ``drawn``, ``hard``, ``moves`` and
    the long films ``season``, ``season_pair`` and ``season_short``.

    Parameters
    ----------
    set_name : str
    seed : int
        Of the sets ``drawn``, ``hard`` and ``moves`` and of the long films.

    Raises
    ------
    ValueError
        For any other name.
    """
    sets: dict[str, Callable[[], tuple[ClipEntry, ...]]] = {
        "sample": lambda: sample_set.CLIPS,
        "training": lambda: training_set.CLIPS,
        "test": lambda: tuning_set.CLIPS,
        "check": lambda: check_set.CLIPS,
        "drawn": lambda: drawn_set.drawn_clips(seed),
        "hard": lambda: hard_set.hard_clips(seed),
        "moves": lambda: moves_set.moves_clips(seed),
        "season": lambda: season_set.season_clips(seed),
        "season_pair": lambda: season_set.season_clips(seed, paired=True),
        "season_short": lambda: season_set.season_clips(seed, season_set.SHORT_REPS),
    }
    if set_name not in sets:
        message = (
            f"Invalid set name. Allowed are {', '.join(map(repr, sets))}, but got {set_name!r}."
        )
        raise ValueError(message)
    return sets[set_name]()
