"""The trainer's page: one file that opens from disk and prints a sheet an athlete, no script."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

from pipeline import __version__
from pipeline.feedback.words import Words, say_mean
from pipeline.log.athlete_overview import Board
from pipeline.log.charts import HEIGHT, WIDTH, bars, calendar, drift_lines, load_lines
from pipeline.log.limits import Limit
from pipeline.log.table_text import columns, comparison, week_row
from pipeline.log.wording import notes_of, say_watch
from pipeline.report.templates import page_templates

MOST_ROWS = 12
MOST_DRIFTS = 6
"""Weeks in the tables and drawings of drifts that fit on the sheet of an athlete."""

TEMPLATES = Path(__file__).parent / "templates"


def volume_page(words: Words, boards: Sequence[Board], today: date) -> str:
    """Make the page.

    Parameters
    ----------
    words
        All texts on it.
    boards
        One for each athlete.
    today
        For the foot of the page.

    Returns
    -------
    str
        HTML that needs nothing else.
    """
    environment = page_templates(TEMPLATES)
    return environment.get_template("volume.html").render(
        said=words.log,
        language=words.language,
        style=(TEMPLATES / "volume.css").read_text(encoding="utf-8"),
        athletes=[_athlete(words, board) for board in boards],
        notes=notes_of(words, boards),
        made=words.log["page_made"].format(number=__version__, day=today.isoformat()),
        width=WIDTH,
        height=HEIGHT,
    )


def _athlete(words: Words, board: Board) -> dict[str, Any]:
    said, figures = words.log, words.texts.figures
    weekdays = said["weekdays"].split("|")
    stacked, most = bars(board)
    lines = load_lines(board)
    days = calendar(board)
    return {
        "name": board.athlete.name,
        "head": said["head"].format(name=board.athlete.name, day=board.last.isoformat()),
        "watch": [say_watch(words, one) for one in board.watch],
        "limits": [_limit(words, limit) for limit in board.limits],
        "weekdays": [weekdays[day.day.weekday()] for day in days[-1]],
        "calendar": list(zip(board.volume.weeks, days, strict=True))[: -MOST_ROWS - 1 : -1],
        "columns": columns(words),
        "weeks": [week_row(words, week) for week in board.volume.weeks[: -MOST_ROWS - 1 : -1]],
        "bars": stacked,
        "most": most,
        "bars_said": "; ".join(
            said["page_bar"].format(
                day=bar.last.isoformat(), left=bar.left, right=bar.right, unknown=bar.unknown
            )
            for bar in stacked
        ),
        "lines": lines,
        "lines_said": ""
        if lines is None
        else said["page_load_now"].format(
            acute=figures.number(lines.now[0], 1),
            chronic=figures.number(lines.now[1], 1),
            day=board.last.isoformat(),
        ),
        "comparison": comparison(words, board),
        "drifts": [_drift(words, board, i) for i in range(len(board.drifts))][:MOST_DRIFTS],
    }


def _drift(words: Words, board: Board, i: int) -> dict[str, Any]:
    drift = board.drifts[i]
    return {
        "said": words.log["page_drift_of"].format(
            measure=words.title(drift.key),
            move=words.move_name(drift.move),
            n=drift.n_sessions,
            early=say_mean(words, drift.key, drift.early),
            late=say_mean(words, drift.key, drift.late),
        ),
        "lines": drift_lines(board, drift),
    }


def _limit(words: Words, limit: Limit) -> str:
    said = words.log
    sentence = said["page_limit" if limit.hand is None else "page_limit_of_hand"]
    return sentence.format(
        most=limit.most,
        counted=said[limit.counted],
        per=said[f"per_{limit.per}"],
        hand="" if limit.hand is None else said[limit.hand],
        by=limit.set_by,
        date=limit.set_at.date().isoformat(),
        why=limit.why,
    )
