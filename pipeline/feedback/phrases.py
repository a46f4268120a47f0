"""All sentences of one language by section and name, and what is asked of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from pipeline.core.catalogue import ENGLISH, Language, shipped_texts
from pipeline.core.messages import Message, Texts
from pipeline.core.results import VerdictWord

LATER_WEIGHT = 0.8
"""How much less the next measure in the order of a move helps than the one before it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """All sentences, by section and name.

    Attributes
    ----------
    units
        Word behind a number, by unit word (m, s, deg, mps, ratio, count).
    numbers
        How a number and a range are said.
    moves
        Per move: its name, and what one and many of them are counted as.
    order
        Per move: measures in the order in which they are talked about.
    weight
        Per move and measure: how much it helps to hear of it, where it is not left to the order.
    look_from
        Per measure: from where on it is a prompt to look.
    sentences, riders, session, session_table, report, cautions, notes, grades
        Sentences by name.
    measure
        Per measure: its name and the phrases for each side of a range.
    of_move
        Per move and measure: phrases that differ from those of the measure.
    sources
        Per source of uncertainty: that it is the greatest, and what to do about it.
    terminal
        What the command line shows, by name.
    log
        Sentences of the training log, by name.
    texts
        The whole catalogue, and how numbers are written: for messages, names and titles.
    language
        In which language they are.
    """

    units: Mapping[str, str]
    numbers: Mapping[str, str]
    moves: Mapping[str, Mapping[str, str]]
    order: Mapping[str, tuple[str, ...]]
    weight: Mapping[str, Mapping[str, float]]
    look_from: Mapping[str, float]
    sentences: Mapping[str, str]
    riders: Mapping[str, str]
    session: Mapping[str, str]
    session_table: Mapping[str, str]
    report: Mapping[str, str]
    measure: Mapping[str, Mapping[str, str]]
    of_move: Mapping[str, Mapping[str, Mapping[str, str]]]
    cautions: Mapping[str, str]
    notes: Mapping[str, str]
    grades: Mapping[str, str]
    sources: Mapping[str, str]
    overlay: Mapping[str, str]
    terminal: Mapping[str, str]
    log: Mapping[str, str]
    texts: Texts
    language: Language

    def move_name(self, move: str) -> str:
        """Name of a move in plain words; its key with spaces if it has none."""
        return self.moves.get(move, {}).get("name", move.replace("_", " "))

    def say_found(self, told: str | None, moves: Sequence[str]) -> str:
        """Say how many reps of which moves were found.

        Parameters
        ----------
        told
            The move that was asked for; None = the program named each rep.
        moves
            Move of each rep.

        Returns
        -------
        str
            Such as ``3 reps of throwback pass`` or ``5 reps (split dodge 3, unknown move 2)``.
        """
        text = self.texts.text
        found = self.texts.counted(len(moves), "rep") if moves else text("rep.found_none")
        if told is not None:
            return text("rep.found_of", found=found, move=told)
        if not moves:
            return found
        each = ", ".join(
            text("rep.found_move", move=move, n=moves.count(move)) for move in dict.fromkeys(moves)
        )
        return text("rep.found_each", found=found, each=each)

    def said(self, text: str) -> str:
        """Say a message in this language and these units; a plain text stays as it is."""
        return self.texts.said(text)

    def text(self, key: str, **values: object) -> str:
        """Say a text of the catalogue by section and name, with what is put into its braces."""
        return self.texts.text(key, **values)

    def section(self, name: str) -> Mapping[str, str]:
        """Give all texts of a section, for a page."""
        section: Mapping[str, str] = self.texts.table[name]
        return section

    def title(self, key: str) -> str:
        """Title of a measure, as a row heading; its key with spaces if it has none."""
        return self.texts.title(key)

    def verdict(self, word: VerdictWord, side: str | None = None) -> str:
        """Say the word of a verdict, and the side on which a value is out of range."""
        said = self.texts.named("verdicts", word.replace(" ", "_"))
        return f"{said}, {self.texts.named('verdicts', side)}" if side else said

    def ground(self, text: str) -> str:
        """Say who set a range or why, where that came along with the program; else as written."""
        if isinstance(text, Message):
            parts = {name: self.ground(part) for name, part in text.values.items()}
            return self.texts.text(text.key, **parts)
        for name, english in shipped_texts(ENGLISH)["grounds"].items():
            if english == text:
                return self.texts.text(f"grounds.{name}")
        return text

    def weight_of(self, move: str, key: str) -> float:
        """How much it helps a player of this move to hear of a measure: 1 most, 0 never told.

        What has no weight of its own follows from its place in the order of the move: 1, then
        `LATER_WEIGHT` of the one before; what is not in the order comes after all that is.
        """
        own = self.weight.get(move, {}).get(key)
        if own is not None:
            return own
        order = self.order.get(move, ())
        return LATER_WEIGHT ** (order.index(key) if key in order else len(order))

    def for_move(self, move: str) -> Words:
        """Give the words with the phrases of each measure as they are in this move."""
        differ = self.of_move.get(move, {})
        if not differ:
            return self
        own = {key: {**self.measure.get(key, {}), **phrases} for key, phrases in differ.items()}
        return replace(self, measure={**self.measure, **own})
