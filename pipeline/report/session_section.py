"""The section of the report on the whole session: a table per move, as text."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from pipeline.core.results import MeasureSummary, SessionSummary, TrendWord
from pipeline.feedback.words import COVERAGE_FACTOR, Words, mean_text, raised

_TREND_WORDS: Mapping[TrendWord, str] = {
    "rose": "rose",
    "fell": "fell",
    "no clear change": "no_clear_change",
}
"""Key in the catalogue of each trend word."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionRow:
    """One measure over the session, as text; empty where not applicable."""

    title: str
    mean: str
    spread: str
    two_reps: str
    in_range: str
    early: str
    late: str
    change: str
    needs: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionTable:
    """One move over the session: caption, whether any row compares thirds, rows."""

    caption: str
    has_thirds: bool
    rows: tuple[SessionRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionSection:
    """The section of the report on a session.

    Attributes
    ----------
    tables
        One for each move with at least two reps.
    headings
        Headings of the section and its columns, and the notes below, by catalogue key.
    """

    tables: tuple[SessionTable, ...]
    headings: Mapping[str, str]


def session_section(words: Words, session: SessionSummary | None) -> SessionSection | None:
    """Build the section of the report on a session.

    Parameters
    ----------
    words
        Units and phrases.
    session
        From the analysis.

    Returns
    -------
    SessionSection or None
        None for fewer than two reps.
    """
    if session is None or not session.sentences:
        return None
    tables = []
    for move in session.moves:
        if move.n_reps < 2 or not move.measures:
            continue
        tables.append(
            SessionTable(
                caption=words.session_table["caption"].format(
                    move=raised(words.move_name(move.move)), n=move.n_reps
                ),
                has_thirds=any(measure.trend is not None for measure in move.measures),
                rows=tuple(_row(words, measure) for measure in move.measures),
            )
        )
    return SessionSection(
        tables=tuple(tables),
        headings=words.session_table,
    )


def _row(words: Words, measure: MeasureSummary) -> SessionRow:
    key, trend = measure.key, measure.trend
    half_width = None if measure.u_mean is None else COVERAGE_FACTOR * measure.u_mean
    n_judged = measure.n_in + measure.n_low + measure.n_high + measure.n_close
    phrases = words.session_table
    early = late = two_reps = needs = ""
    change = phrases["too_few"]
    if trend is not None:
        early, late = mean_text(words, key, trend.early), mean_text(words, key, trend.late)
        change = phrases[_TREND_WORDS[trend.word]]
        smallest = mean_text(words, key, trend.smallest_real_change)
        needs = phrases["thirds"].format(smallest=smallest)
    if measure.smallest_real_change is not None:
        smallest = mean_text(words, key, measure.smallest_real_change)
        two_reps = phrases["two_reps"].format(smallest=smallest)
    return SessionRow(
        title=words.title(key),
        mean=mean_text(words, key, measure.mean, half_width),
        spread=_spread(words, measure),
        two_reps=two_reps,
        in_range=(
            phrases["inside"].format(count=measure.n_in, n=n_judged)
            if n_judged
            else phrases["no_range"]
        ),
        early=early,
        late=late,
        change=change,
        needs=needs,
    )


def _spread(words: Words, measure: MeasureSummary) -> str:
    """Return the player's own spread; where it is unknown, the total spread, labelled as such."""
    if measure.own_spread is not None:
        return mean_text(words, measure.key, measure.own_spread)
    if measure.spread is None:
        return words.session_table["too_few"]
    spread = mean_text(words, measure.key, measure.spread)
    return words.session_table["spread_whole"].format(spread=spread)
