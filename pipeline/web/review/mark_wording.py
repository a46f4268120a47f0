"""Says a mark in a sentence: what, why, who and when."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.feedback.words import Words
from pipeline.log.marks import Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldMark:
    """A mark in words.

    Attributes
    ----------
    id
        Number of the mark, for undoing.
    said
        What was said.
    signed
        Who and when.
    """

    id: int
    said: str
    signed: str


def told_mark(words: Words, mark: Mark) -> ToldMark:
    """Put a mark into words."""
    return ToldMark(
        id=mark.id,
        said=_said(words, mark),
        signed=words.text(
            "review.signed", by=mark.by, at=mark.at.astimezone().strftime("%Y-%m-%d %H:%M")
        ),
    )


def _said(words: Words, mark: Mark) -> str:
    ending = "_on" if mark.measure else ""
    measure = words.title(mark.measure) if mark.measure else ""
    if mark.kind == "agree":
        said = words.text(f"review.agreed{ending}", measure=measure)
    elif mark.kind == "disagree":
        why = words.text(f"review.why_{mark.why}") if mark.why else ""
        if mark.move:
            why = words.text("review.why_is_move", move=words.move_name(mark.move))
        said = words.text(f"review.disagreed{ending}", measure=measure, why=why)
    elif mark.kind in ("note", "cue"):
        return words.text(f"review.told_{mark.kind}", text=mark.text or "")
    else:
        return words.text("review.told_other", kind=mark.kind.replace("_", " "))
    return words.text("review.with_text", said=said, text=mark.text) if mark.text else said
