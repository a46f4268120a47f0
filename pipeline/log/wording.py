"""Formats figures of the training log, and what erasing does, as sentences, tables and data."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.feedback.words import Words, mean_text
from pipeline.log.athlete_overview import AthleteOverview
from pipeline.log.counts import COUNTED
from pipeline.log.erasure_plan import ErasurePlan, KeptFile
from pipeline.log.load import AcuteChronic, Figure
from pipeline.log.trends import Change
from pipeline.log.volume import Totals, Week
from pipeline.log.watch_list import Watch

if TYPE_CHECKING:
    from pipeline.log.personal_data import Erased

MOST_NAMES = 5
"""So many names of files are listed before the rest is counted."""


def watch_text(words: Words, watch: Watch) -> str:
    """Return one entry of the watch list as a sentence: numbers, rule and source."""
    texts, numbers, about = words.log, watch.numbers, watch.about
    figures = words.texts.figures
    if watch.kind == "limit":
        limit = about.limit
        sentence = texts["limit" if limit.hand is None else "limit_of_hand"].format(
            number=about.number,
            counted=texts[limit.counted],
            per=texts[f"per_{limit.per}"],
            hand="" if limit.hand is None else texts[limit.hand],
            day=about.day.isoformat(),
            most=limit.most,
            by=limit.set_by,
            date=limit.set_at.date().isoformat(),
            why=limit.why,
        )
        if about.estimated:
            sentence = texts["limit_estimated"].format(
                sentence=sentence, estimated=about.estimated, number=about.number
            )
        return sentence
    if watch.kind == "no_day_off":
        return texts["no_day_off"].format(n=f"{numbers['in_a_row']:.0f}")
    if watch.kind == "hours":
        return texts["hours"].format(
            hours=figures.number(numbers["hours"], 1), age=f"{numbers['age_years']:.0f}"
        )
    if watch.kind == "balance":
        return texts["balance"].format(
            now=figures.share(numbers["now"]),
            before=figures.share(numbers["before"]),
            n_now=f"{numbers['n_now']:.0f}",
            n_before=f"{numbers['n_before']:.0f}",
        )
    return texts["drift"].format(
        measure=words.title(about.key),
        move=words.move_name(about.move),
        n=about.n_sessions,
        **{name: mean_text(words, about.key, numbers[name]) for name in ("early", "late", "least")},
    )


def change_text(words: Words, change: Change, first: str, second: str) -> str:
    """Return a sentence on the change of a measure between two periods."""
    parts = {
        "measure": words.title(change.key),
        "move": words.move_name(change.move),
        "first": first,
        "second": second,
        "n_early": change.n_early,
        "n_late": change.n_late,
        "early": mean_text(words, change.key, change.early),
        "late": mean_text(words, change.key, change.late),
        "least": mean_text(words, change.key, change.smallest_real_change),
    }
    if change.word == "no clear change":
        sentence = words.log["trend_none"].format(**parts)
    else:
        sentence = words.log["trend_change"].format(word=words.log[change.word], **parts)
    return sentence if change.has_session_spread else f"{sentence} {words.log['trend_one_session']}"


def figure_text(words: Words, figure: Figure, decimals: int) -> str:
    """Return a figure as text, or the reason for its absence."""
    if figure.value is None:
        return words.log.get(figure.reason or "", words.log["not_known"])
    return words.texts.figures.number(figure.value, decimals)


def totals_text(words: Words, totals: Totals) -> str:
    """Return the counts as text, each with how many of it were estimated."""
    parts = []
    for name in COUNTED:
        if totals.of(name):
            mark = f" ({totals.estimated(name)} e)" if totals.estimated(name) else ""
            parts.append(f"{totals.of(name)} {words.log[name]}{mark}")
    return ", ".join(parts)


def overview_document(words: Words, overview: AthleteOverview) -> dict[str, Any]:
    """Return the figures of an athlete as plain data."""
    volume = overview.volume
    return {
        "athlete": overview.athlete.name,
        "to": overview.last.isoformat(),
        "watch": [
            {"kind": one.kind, "numbers": dict(one.numbers), "text": watch_text(words, one)}
            for one in overview.watch
        ],
        "weeks": [_week_document(week) for week in volume.weeks],
        "month_mean_per_week": None if volume.month is None else dict(volume.month),
        "throws_change_from_week_before": _figure_document(volume.change),
        "days_in_a_row": volume.days_in_a_row,
        "load": _pair_document(volume.load),
        "throws_per_day": _pair_document(volume.throws),
        "limits": [
            {
                "counted": limit.counted,
                "per": limit.per,
                "hand": limit.hand,
                "most": limit.most,
                "for_everybody": limit.athlete_id is None,
                "set_by": limit.set_by,
                "why": limit.why,
                "set_at": limit.set_at.isoformat(),
            }
            for limit in overview.limits
        ],
    }


def notes_of(words: Words, overviews: Sequence[AthleteOverview]) -> list[str]:
    """Return the notes on the meaning and the limits of the figures."""
    texts = words.log
    notes = [texts["no_prediction"], texts["load_is"], texts["ratio_is"]]
    totals = [week.totals for overview in overviews for week in overview.volume.weeks]
    if any(one.estimated(name) for one in totals for name in COUNTED):
        notes.insert(0, texts["estimated_are"])
    if not any(overview.limits for overview in overviews):
        notes.insert(0, texts["limits_none"])
    return notes


def _week_document(week: Week) -> dict[str, Any]:
    totals = week.totals
    days = {"from": week.first.isoformat(), "to": week.last.isoformat(), "in_log": week.in_log}
    if not week.in_log:
        return days
    return {
        **days,
        "sessions": week.n_sessions,
        "days_off": week.n_days_off,
        "minutes": week.minutes,
        "sessions_without_minutes": week.n_untimed,
        "by_source": {source: dict(counts) for source, counts in totals.by_source.items()},
        "by_hand": {hand or "unknown": dict(counts) for hand, counts in totals.by_hand.items()},
        "by_side": {side or "unknown": dict(counts) for side, counts in totals.by_side.items()},
        "left_share_of_throws": _figure_document(totals.left_share()),
        "load": _figure_document(week.load),
        "monotony": _figure_document(week.monotony),
        "strain": _figure_document(week.strain),
    }


def _pair_document(pair: AcuteChronic) -> dict[str, Any]:
    return {
        "acute": _figure_document(pair.acute),
        "chronic": _figure_document(pair.chronic),
        "ratio": _figure_document(pair.ratio),
    }


def _figure_document(figure: Figure) -> dict[str, Any]:
    return {"value": figure.value, "reason": figure.reason}


N_COLUMNS = 14


def overview_text(words: Words, overview: AthleteOverview) -> str:
    """Return the figures of an athlete as text: watch list, weeks, comparison of the last week."""
    texts = words.log
    lines = [texts["head"].format(name=overview.athlete.name, day=overview.last.isoformat())]
    watch = [watch_text(words, one) for one in overview.watch] or [texts["watch_none"]]
    lines += [f"  {sentence}" for sentence in watch]
    rows = [columns(words), *(week_row(words, week) for week in reversed(overview.volume.weeks))]
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    lines += [
        "  " + "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True))
        for row in rows
    ]
    return "\n".join([*lines, *(f"  {line}" for line in comparison(words, overview))])


def comparison(words: Words, overview: AthleteOverview) -> list[str]:
    """Return sentences on how the last week compares, and on missing figures with reasons."""
    texts, volume = words.log, overview.volume
    lines = []
    for name in ("load", "monotony", "strain"):
        figure: Figure = getattr(volume.week, name)
        if figure.value is None:
            number = figure_text(words, figure, 0)
            lines.append(texts["of_week"].format(name=texts[name], number=number))
    sentences = [texts["week"].format(number=volume.week.totals.of("throws"))]
    if volume.change.value is not None:
        sentences.append(texts["week_change"].format(change=_signed(words, volume.change.value)))
    if volume.month is not None:
        sentences.append(texts["week_month"].format(number=f"{volume.month['throws']:.0f}"))
    return [
        *lines,
        " ".join(sentences),
        _pair(words, "load", volume.load, 0),
        _pair(words, "throws_a_day", volume.throws, 1),
    ]


def columns(words: Words) -> tuple[str, ...]:
    """Return the column headings of `week_row`."""
    return tuple(words.log["columns"].split("|"))


def week_row(words: Words, week: Week) -> tuple[str, ...]:
    """Return a week as cells; ``e`` marks estimates, ``+`` sessions of unknown duration.

    A week before the first entry of the log is unknown: its cells are dashes.
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
        reason = figure_text(words, pair.acute, 0)
        return words.log["pair_none"].format(name=called, reason=reason)
    return words.log["pair"].format(
        name=called,
        acute=figure_text(words, pair.acute, decimals),
        chronic=figure_text(words, pair.chronic, decimals),
        ratio=figure_text(words, pair.ratio, 2),
    )


def _signed(words: Words, share: float) -> str:
    return ("+" if share > 0 else "") + words.texts.figures.share(share)


def _cell(words: Words, figure: Figure, decimals: int) -> str:
    return "-" if figure.value is None else words.texts.figures.number(figure.value, decimals)


def plan_lines(words: Words, plan: ErasurePlan) -> list[str]:
    """List what would go and what would stay."""
    lines = shared_lines(words, plan)
    lines += _rows_line(words, plan)
    if plan.files:
        lines.append(words.text("erase_output.would_go", n=len(plan.files)))
        lines += [f"  {one.path}" for one in plan.files]
    if plan.n_ranges or plan.n_corrections:
        lines.append(
            words.text(
                "erase_output.would_go_too",
                n_ranges=plan.n_ranges,
                n_corrections=plan.n_corrections,
            )
        )
    if plan.drills:
        lines.append(words.text("erase_output.shortened", drills=", ".join(plan.drills)))
    return lines + _staying(words, plan, "would_stay")


def erased_lines(words: Words, erased: Erased) -> list[str]:
    """List what went, and what stayed and why."""
    plan = erased.plan
    lines = shared_lines(words, plan) + _rows_line(words, plan)
    lines.append(
        words.text(
            "erase_output.files",
            n_files=erased.n_files,
            n_ranges=erased.n_ranges,
            n_corrections=erased.n_corrections,
        )
    )
    for key, drills in (
        ("shortened", erased.drills_shortened),
        ("forgotten", erased.drills_forgotten),
    ):
        if drills:
            lines.append(words.text(f"erase_output.{key}", drills=", ".join(drills)))
    if erased.n_corrections:
        lines.append(words.text("erase_output.learned"))
    if erased.backups:
        lines.append(words.text("erase_output.backups", n=len(erased.backups)))
    lines += _staying(words, plan, "stays")
    if erased.left:
        lines.append(words.text("erase_output.still_found"))
        lines += [f"  {path}" for path in erased.left]
    elif not plan.leaves_something:
        lines.append(words.text("erase_output.nothing_left"))
    return lines


def shared_lines(words: Words, plan: ErasurePlan) -> list[str]:
    """Name the films that are of other athletes too, and these athletes."""
    return [
        words.text("erase_output.shared_film", film=one.file_name, names=", ".join(one.athletes))
        for one in plan.shared
    ]


def _rows_line(words: Words, plan: ErasurePlan) -> list[str]:
    if not plan.rows:
        return []
    counted = (words.texts.counted(n, f"rows_of_{table}") for table, n in plan.rows.items())
    return [words.text("erase_output.rows", rows=", ".join(counted))]


def _staying(words: Words, plan: ErasurePlan, heading: str) -> list[str]:
    found = []
    groups: dict[tuple[Path, str, tuple[str, ...]], list[KeptFile]] = {}
    for one in plan.kept:
        groups.setdefault((one.path.parent, one.reason, one.athletes), []).append(one)
    for (folder, reason, athletes), kept in groups.items():
        place = _place(words, folder, [one.path.name for one in kept])
        why = words.text(f"erase_output.kept_{reason}", names=", ".join(athletes))
        found.append(f"  {place}: {why}")
    for each in plan.kept_folders:
        names = _names(words, each.names)
        found.append(f"  {each.path}: {words.text('erase_output.kept_folder', names=names)}")
    for place_not_reached in plan.unreached:
        why = words.text(f"erase_output.unreached_{place_not_reached.reason}")
        found.append(f"  {place_not_reached.path}: {why}")
    return [words.text(f"erase_output.{heading}"), *found] if found else []


def _place(words: Words, folder: Path, names: Sequence[str]) -> str:
    return str(folder / names[0]) if len(names) == 1 else f"{folder}: {_names(words, names)}"


def _names(words: Words, names: Sequence[str]) -> str:
    listed = ", ".join(names[:MOST_NAMES])
    if len(names) <= MOST_NAMES:
        return listed
    return words.text("erase_output.and_more", names=listed, n=len(names) - MOST_NAMES)
