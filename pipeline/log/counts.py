"""Classifies a rep for the training counts: throw, shot, dodge, cut, contact work."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.core.move_table import MOVE_INFO

if TYPE_CHECKING:
    from pipeline.core.types import Rep

COUNTED = ("throws", "shots", "dodges", "cuts", "contacts")
"""Kinds of work. A shot counts as a throw too, and a cut as a dodge too."""


def counts_of(rep: Rep, *, like: str | None = None, contact: bool = False) -> dict[str, int]:
    """Return the kinds of work as which a rep counts.

    Parameters
    ----------
    rep
        The rep.
    like
        Built-in move that a taught drill resembles; None for none.
    contact
        Whether a defender may have come within an arm's length.

    Returns
    -------
    dict
        0 or 1 by `COUNTED`. Any rep in which the ball leaves the stick counts as a throw.

    Examples
    --------
    >>> from pipeline.core.types import Rep
    >>> rep = Rep(index=1, start_s=0, stop_s=1, start_frame=0, stop_frame=30, move="split_dodge",
    ...           stick_hand="left")
    >>> counts_of(rep)
    {'throws': 0, 'shots': 0, 'dodges': 1, 'cuts': 1, 'contacts': 0}
    """
    move = like or rep.move
    info = MOVE_INFO.get(move)
    return {
        "throws": int("release" in rep.events or (info is not None and info.throws)),
        "shots": int(info is not None and info.kind == "shot"),
        "dodges": int(info is not None and info.kind == "dodge"),
        "cuts": int(info is not None and info.cuts),
        "contacts": int(contact),
    }
