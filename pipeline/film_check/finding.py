"""One finding of the film check: a verdict, a sentence, what to change, what is at stake."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, get_args

from pipeline.core.messages import Message, Texts, in_a_row, message, shipped
from pipeline.core.types import LensProfile
from pipeline.measures import MEASURES, measures_of
from pipeline.measures.registry import ReadFrom

FilmVerdict = Literal["fine", "could be better", "will not do", "not told"]

_PARTS_OF: Mapping[ReadFrom, tuple[ReadFrom, ...]] = {"hands": ("release",), "run": ("defender",)}
"""The release belongs to the hands, and the room to the defender to the run."""

COLUMNS = 100
FEWEST_TITLES = 4
"""More measures than this are counted and not listed in a sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckRequest:
    """What is known of a film besides its pictures; None = not known.

    Attributes
    ----------
    move
        Key of the move; None when unknown.
    stature_m
        Of the athlete; None when unknown.
    lens
        As it was measured.
    fov_deg
        Field of view along the long side, if it was given.
    true_fps
        Rate of filming of a slow-motion film; None = the file's times are true.
    athlete_at
        (x, y) px where the athlete stands at first.
    """

    move: str | None = None
    stature_m: float | None = None
    lens: LensProfile | None = None
    fov_deg: float | None = None
    true_fps: float | None = None
    athlete_at: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding of the film check.

    Attributes
    ----------
    key
        What was looked at, e.g. ``frame_rate``.
    verdict
        One of the four.
    sentence
        A plain sentence with the number.
    what_to_do
        What to change; empty when there is nothing.
    missing, unsure
        Keys of the measures that will not be had, and of those that will be less sure.
    """

    key: str
    verdict: FilmVerdict
    sentence: str
    what_to_do: str = ""
    missing: tuple[str, ...] = ()
    unsure: tuple[str, ...] = ()

    @property
    def limits(self) -> bool:
        """Whether it is worth a note: something could be better, or will not do."""
        return self.verdict in ("could be better", "will not do")

    @property
    def stake(self) -> str:
        """What it costs, as a sentence with the measures' names; empty when nothing."""
        parts = (
            message(f"check.{word}", measures=_measures(keys))
            for word, keys in (("missing", self.missing), ("unsure", self.unsure))
            if keys
        )
        return in_a_row(*parts)

    @property
    def note(self) -> str:
        """Everything in one paragraph, for the notes of an analysis."""
        return in_a_row(self.sentence, self.what_to_do, self.stake)

    def as_dict(self) -> dict[str, Any]:
        """Give plain data for JSON."""
        return {
            "key": self.key,
            "verdict": self.verdict,
            "said": self.sentence,
            "what_to_do": self.what_to_do or None,
            "missing": list(self.missing),
            "unsure": list(self.unsure),
        }


def verdict_of(value: float, *, better: float, enough: float) -> FilmVerdict:
    """Hold a number against what is good and what is just enough.

    Parameters
    ----------
    value
        The number.
    better
        From here on it is fine.
    enough
        Beyond this, seen from `better`, it will not do. May be above `better`, for numbers that
        should be small.

    Examples
    --------
    >>> verdict_of(80.0, better=100.0, enough=50.0)
    'could be better'
    >>> verdict_of(3.0, better=1.0, enough=2.0)
    'will not do'
    """
    sign = 1.0 if better > enough else -1.0
    if sign * value >= sign * better:
        return "fine"
    return "could be better" if sign * value >= sign * enough else "will not do"


def keys_of(move: str | None) -> tuple[str, ...]:
    """Keys of all measures of a move; of all moves when unknown."""
    return tuple(MEASURES) if move is None else tuple(info.key for info in measures_of(move))


def keys_read_from(move: str | None, part: ReadFrom) -> tuple[str, ...]:
    """Keys of the measures of a move, or of all, for which this has to be seen well."""
    parts = {part, *_PARTS_OF.get(part, ())}
    return tuple(key for key in keys_of(move) if MEASURES[key].read_from in parts)


def _measures(keys: tuple[str, ...]) -> Message:
    if len(keys) > FEWEST_TITLES:
        return message("check.many_measures", n=len(keys), keys=keys[:2])
    return message("check.measures", keys=keys)


def heading(clip_name: str, findings: Sequence[Finding], texts: Texts | None = None) -> str:
    """Sum up the findings in one line, in English unless other texts are given."""
    texts = texts or shipped()
    counts = {word: sum(f.verdict == word for f in findings) for word in get_args(FilmVerdict)}
    counted = ", ".join(f"{n} {_verdict(word, texts)}" for word, n in counts.items() if n)
    return texts.text("check.heading", clip=clip_name, n=len(findings), counts=counted)


def finding_lines(findings: Sequence[Finding], texts: Texts | None = None) -> list[str]:
    """Format findings as lines of plain text, what to change and what it costs indented below."""
    texts = texts or shipped()
    lines: list[str] = []
    names = [texts.named("looked_at", finding.key) for finding in findings]
    width = max(map(len, names), default=0)
    verdict_width = max(len(_verdict(word, texts)) for word in get_args(FilmVerdict))
    for name, finding in zip(names, findings, strict=True):
        first = f"  {_verdict(finding.verdict, texts):<{verdict_width}}  {name:<{width}}  "
        below = " " * len(first)
        sentences = [text for text in (finding.sentence, finding.what_to_do, finding.stake) if text]
        for number, sentence in enumerate(sentences):
            lines += textwrap.wrap(
                texts.translate(sentence), COLUMNS, initial_indent=below if number else first,
                subsequent_indent=below,
            )  # fmt: skip
    return lines


def _verdict(word: FilmVerdict, texts: Texts) -> str:
    return texts.named("film_verdicts", word.replace(" ", "_"))
