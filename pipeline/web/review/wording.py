"""Texts of a rep in the queue and of the marks on it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pipeline.core.messages import message_of
from pipeline.core.results import Measurement
from pipeline.feedback.words import COVERAGE_FACTOR, Words, number_text, range_text
from pipeline.log.marks import ReviewMark
from pipeline.log.stored_reps import stored_range
from pipeline.report.verdict_marks import SHAPES
from pipeline.web.review.context import rep_address

SURE = 0.99
"""Probability above which the page shows a phrase in place of a number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownRep:
    """A rep as a row of the queue.

    Attributes
    ----------
    clip_id, number, version
        The rep, and the version of its marks.
    address, picture
        Path of its page, and of its picture; None if missing.
    athlete, move, when
        Texts of athlete, move and time.
    measure
        Key of the measure that flags it; None for an unnamed move.
    title, value_text, range_text, verdict, shape, chance
        Of that measure: name, value, range, verdict as text and as shape, and probability.
        Empty without a measure.
    """

    clip_id: int
    number: int
    version: int
    address: str
    picture: str | None
    athlete: str
    move: str
    when: str
    measure: str | None
    title: str
    value_text: str
    range_text: str
    verdict: str
    shape: str
    chance: str


def shown_rep(words: Words, row: Mapping[str, Any]) -> ShownRep:
    """Make the texts of a row of `pipeline.web.review.queue.rows_of`."""
    address = rep_address(row["clip_id"], row["number"])
    when = words.text(
        "review.when" if row["hand"] else "review.when_no_hand",
        day=row["day"].isoformat(),
        number=row["number"],
        clip=row["file_name"],
        hand=words.text(f"review.hand_{row['hand']}") if row["hand"] else "",
    )
    key, verdict = row["measure"], row["verdict"]
    chance = ""
    if row["probability_inside"] is not None:
        share = 1.0 - row["probability_inside"]
        name = "chance_sure" if share > SURE else "chance"
        chance = words.text(f"review.{name}", share=share)
    elif row["kind"] == "unknown":
        chance = words.text("review.not_named", share=row["move_probability"])
    return ShownRep(
        clip_id=row["clip_id"],
        number=row["number"],
        version=row["version"],
        address=address,
        picture=f"{address}/picture" if row["results_path"] else None,
        athlete=row["athlete"],
        move=words.move_name(row["move"]),
        when=when,
        measure=key,
        title=words.title(key) if key else "",
        value_text=measure_text(words, key, row) if key else "",
        range_text=range_text(words, stored_range(key, row["target_range"]))
        if key and row["target_range"]
        else "",
        verdict=words.verdict(verdict, row["verdict_side"]) if verdict else "",
        shape=SHAPES[verdict] if verdict else "none",
        chance=chance,
    )


def measure_text(words: Words, key: str, row: Mapping[Any, Any]) -> str:
    """Text of a logged value with its expanded uncertainty, or of why it is missing."""
    if row["value"] is None:
        reason = row.get("reason")
        return (
            words.translate(message_of(reason)) if reason else words.text("verdicts.not_measured")
        )
    value, u = float(row["value"]), row["u"]
    interval = (value - COVERAGE_FACTOR * u, value + COVERAGE_FACTOR * u) if u is not None else None
    measurement = Measurement(key=key, unit=row["unit"], value=value, u=u, interval95=interval)
    return number_text(words, measurement)


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkView:
    """Texts of a mark.

    Attributes
    ----------
    id
        Number of the mark, for undoing.
    text
        Content of the mark.
    signed
        Author and time.
    """

    id: int
    text: str
    signed: str


def mark_view(words: Words, mark: ReviewMark) -> MarkView:
    """Make the texts of a mark."""
    return MarkView(
        id=mark.id,
        text=_mark_text(words, mark),
        signed=words.text(
            "review.signed", by=mark.by, at=mark.at.astimezone().strftime("%Y-%m-%d %H:%M")
        ),
    )


def _mark_text(words: Words, mark: ReviewMark) -> str:
    ending = "_on" if mark.measure else ""
    measure = words.title(mark.measure) if mark.measure else ""
    if mark.kind == "agree":
        text = words.text(f"review.agreed{ending}", measure=measure)
    elif mark.kind == "disagree":
        why = words.text(f"review.why_{mark.why}") if mark.why else ""
        if mark.move:
            why = words.text("review.why_is_move", move=words.move_name(mark.move))
        text = words.text(f"review.disagreed{ending}", measure=measure, why=why)
    elif mark.kind in ("note", "cue"):
        return words.text(f"review.told_{mark.kind}", text=mark.text or "")
    else:
        return words.text("review.told_other", kind=mark.kind.replace("_", " "))
    return words.text("review.with_text", said=text, text=mark.text) if mark.text else text
