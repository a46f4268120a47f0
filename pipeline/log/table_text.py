"""The volume of an athlete as lines of text for a terminal."""

from __future__ import annotations

from pipeline.log.board import Board
from pipeline.log.load import Figure
from pipeline.log.told import say_figure, say_watch
from pipeline.log.volume import Week
from pipeline.words import Words

COLUMNS = ("throws", "left", "right", "shots", "dodges", "cuts", "contact", "sessions", "days off",
           "minutes", "load", "monotony", "strain")  # fmt: skip


def board_text(words: Words, board: Board) -> str:
    """Write what stands out, then the weeks, then how the last one compares."""
    volume = board.volume
    lines = [f"{board.athlete.name}, up to {board.last.isoformat()}"]
    said = [say_watch(words, one) for one in board.watch] or [words.log["watch_none"]]
    lines += [f"  {sentence}" for sentence in said]
    rows = [("7 days to", *COLUMNS), *(_row(week) for week in reversed(volume.weeks))]
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    lines += [
        "  " + "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True))
        for row in rows
    ]
    for name in ("load", "monotony", "strain"):
        figure: Figure = getattr(volume.week, name)
        if figure.value is None:
            lines.append(f"  {name} of the last week: {say_figure(words, figure, 0)}")
    now = volume.week.totals.of("throws")
    month = (
        "" if volume.month is None else f"; mean of the weeks before {volume.month['throws']:.0f}"
    )
    change = volume.change
    since = f", {change.value:+.0%} from the week before" if change.value is not None else ""
    lines.append(f"  throws in the last week: {now}{since}{month}")
    for name, pair, decimals in (("load", volume.load, 0), ("throws a day", volume.throws, 1)):
        parts = ((pair.acute, decimals), (pair.chronic, decimals), (pair.ratio, 2))
        if pair.acute.value is None:
            lines.append(f"  {name}, acute and chronic: {say_figure(words, pair.acute, 0)}")
        else:
            acute, chronic, ratio = (say_figure(words, figure, n) for figure, n in parts)
            lines.append(f"  {name}: acute {acute}, chronic {chronic}, ratio {ratio}")
    return "\n".join(lines)


def _row(week: Week) -> tuple[str, ...]:
    totals = week.totals

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
        _cell(week.load, 0),
        _cell(week.monotony, 2),
        _cell(week.strain, 0),
    )


def _cell(figure: Figure, decimals: int) -> str:
    return "-" if figure.value is None else f"{figure.value:.{decimals}f}"
