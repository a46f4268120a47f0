"""The volume of an athlete as lines of text, for a terminal and for the page."""

from __future__ import annotations

from pipeline.feedback.words import Words
from pipeline.log.athlete_overview import Board
from pipeline.log.load import AcuteChronic, Figure
from pipeline.log.volume import Week
from pipeline.log.wording import say_figure, say_watch

N_COLUMNS = 14


def board_text(words: Words, board: Board) -> str:
    """Write what stands out, then the weeks, then how the last one compares."""
    said = words.log
    lines = [said["head"].format(name=board.athlete.name, day=board.last.isoformat())]
    watch = [say_watch(words, one) for one in board.watch] or [said["watch_none"]]
    lines += [f"  {sentence}" for sentence in watch]
    rows = [columns(words), *(week_row(words, week) for week in reversed(board.volume.weeks))]
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    lines += [
        "  " + "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True))
        for row in rows
    ]
    return "\n".join([*lines, *(f"  {line}" for line in comparison(words, board))])


def comparison(words: Words, board: Board) -> list[str]:
    """Say how the last week compares, and which of its figures are missing and why."""
    said, volume = words.log, board.volume
    lines = []
    for name in ("load", "monotony", "strain"):
        figure: Figure = getattr(volume.week, name)
        if figure.value is None:
            number = say_figure(words, figure, 0)
            lines.append(said["of_week"].format(name=said[name], number=number))
    sentences = [said["week"].format(number=volume.week.totals.of("throws"))]
    if volume.change.value is not None:
        sentences.append(said["week_change"].format(change=_signed(words, volume.change.value)))
    if volume.month is not None:
        sentences.append(said["week_month"].format(number=f"{volume.month['throws']:.0f}"))
    return [
        *lines,
        " ".join(sentences),
        _pair(words, "load", volume.load, 0),
        _pair(words, "throws_a_day", volume.throws, 1),
    ]


def columns(words: Words) -> tuple[str, ...]:
    """Give the heads of the columns of `week_row`."""
    return tuple(words.log["columns"].split("|"))


def week_row(words: Words, week: Week) -> tuple[str, ...]:
    """Write a week as cells; ``e`` marks a number that holds estimates, ``+`` untold minutes.

    Of a week before the first entry of the log nothing is known: its cells are dashes.
    """
    totals = week.totals
    if not week.in_log:
        return (week.last.isoformat(), *["-"] * (N_COLUMNS - 1))

    def number(name: str) -> str:
        mark = "e" if totals.estimated(name) else ""
        return f"{totals.of(name)}{mark}"

    hands = [str(totals.by_hand[hand]["throws"]) for hand in ("left", "right")]
    untimed = "+" if week.n_untimed else ""
    return (
        week.last.isoformat(),
        number("throws"),
        *hands,
        *(number(name) for name in ("shots", "dodges", "cuts", "contacts")),
        str(week.n_sessions),
        str(week.n_days_off),
        f"{week.minutes:.0f}{untimed}",
        _cell(words, week.load, 0),
        _cell(words, week.monotony, 2),
        _cell(words, week.strain, 0),
    )


def _pair(words: Words, name: str, pair: AcuteChronic, decimals: int) -> str:
    called = words.log[name]
    if pair.acute.value is None:
        reason = say_figure(words, pair.acute, 0)
        return words.log["pair_none"].format(name=called, reason=reason)
    return words.log["pair"].format(
        name=called,
        acute=say_figure(words, pair.acute, decimals),
        chronic=say_figure(words, pair.chronic, decimals),
        ratio=say_figure(words, pair.ratio, 2),
    )


def _signed(words: Words, share: float) -> str:
    return ("+" if share > 0 else "") + words.texts.figures.share(share)


def _cell(words: Words, figure: Figure, decimals: int) -> str:
    return "-" if figure.value is None else words.texts.figures.number(figure.value, decimals)
