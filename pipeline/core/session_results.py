"""What is said of a whole session as plain data: numbers over its reps, sentences, cautions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Side = Literal["low", "high"]
TrendWord = Literal["rose", "fell", "no clear change"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A prompt to take care, to look, or to ask; never a diagnosis.

    Attributes
    ----------
    key
        Which caution it is; its sentence stands under this name in the file of words.
    text
        What is said.
    reps
        Indices of the reps that it is about; empty for the whole clip.
    numbers
        What it rests on, by name, in the unit that the name ends with.
    """

    key: str
    text: str
    reps: tuple[int, ...] = ()
    numbers: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """One sentence or two about one measure of one move.

    Attributes
    ----------
    move, key
        What it is about.
    side
        Side of the range on which it was wrong; None for praise, for a change, and for both sides.
    text
        What is said.
    """

    move: str
    key: str
    side: Side | None
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """The last third of the reps against the first, in the unit of the measure.

    Attributes
    ----------
    n_third
        Reps in each of the two.
    early, late
        Their means.
    u_change
        Standard uncertainty of the difference of the two means.
    smallest_real_change
        Smallest difference of two such means that is more than chance (95 %).
    probability_by_chance
        Of so large a difference where nothing changed.
    word
        Whether it rose, fell, or showed no clear change.
    """

    n_third: int
    early: float
    late: float
    u_change: float
    smallest_real_change: float
    probability_by_chance: float
    word: TrendWord


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureSummary:
    """One measure over all reps of one move, in its own unit.

    Attributes
    ----------
    key, unit
        As in `Measurement`.
    n_measured
        Reps in which it was measured.
    mean, u_mean
        Mean over those reps, and what the measuring alone leaves open in it; None if unknown.
    spread
        Standard deviation from rep to rep as measured; None for fewer than three reps.
    noise
        Root mean square of what the measuring adds to that spread; None if unknown.
    own_spread
        The player's own: the spread with the noise taken off in quadrature; None where the noise is
        unknown or as large as the spread.
    typical_error
        Spread within parts of the session, so without a drift over it; None as for the spread.
    smallest_real_change
        Smallest difference of two single reps that is more than chance (95 %).
    n_in, n_low, n_high, n_close
        Reps in range, out of it on either side, and too close to call.
    trend
        None for fewer than six reps.
    """

    key: str
    unit: str
    n_measured: int
    mean: float
    u_mean: float | None
    spread: float | None
    noise: float | None
    own_spread: float | None
    typical_error: float | None
    smallest_real_change: float | None
    n_in: int
    n_low: int
    n_high: int
    n_close: int
    trend: Trend | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveSummary:
    """All reps of one move in a clip: how many, and each measure that was had in one of them."""

    move: str
    n_reps: int
    measures: tuple[MeasureSummary, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionSummary:
    """All reps of a clip.

    Attributes
    ----------
    went_well, work_on
        One thing that went well and one thing to work on; None where there is none.
    trend
        What changed from the first reps to the last, or that no clear change is seen.
    moves
        Numbers per move, in the order in which the moves first appear.
    """

    went_well: Said | None = None
    work_on: Said | None = None
    trend: Said | None = None
    moves: tuple[MoveSummary, ...] = ()

    @property
    def said(self) -> tuple[str, ...]:
        """What is said of the session, in order."""
        parts = (self.went_well, self.work_on, self.trend)
        return tuple(part.text for part in parts if part is not None)
