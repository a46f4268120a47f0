"""The words: loads the catalogue of texts; numbers with uncertainty, and ranges, as text."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from pathlib import Path

from pipeline.core.catalogue import ENGLISH, Language, Units, file_name, shipped_path, shipped_texts
from pipeline.core.files import data_folder
from pipeline.core.messages import Message, Texts, texts_of
from pipeline.core.results import Analysis, FieldSide, Measurement, TargetRange, VerdictWord
from pipeline.core.types import Rep
from pipeline.feedback.words_file import read_words
from pipeline.measures import MEASURES, unit_word_of
from pipeline.settings.locale import environment_language, environment_units

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
        How a number and a range are written.
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

    def found_text(self, given_move: str | None, moves: Sequence[str]) -> str:
        """Return how many reps of which moves were found, as text.

        Parameters
        ----------
        given_move
            The move set by the user; None = the program named each rep.
        moves
            Move of each rep.

        Returns
        -------
        str
            Such as ``3 reps of throwback pass`` or ``5 reps (split dodge 3, unknown move 2)``.
        """
        text = self.texts.text
        found = self.texts.counted(len(moves), "rep") if moves else text("rep.found_none")
        if given_move is not None:
            return text("rep.found_of", found=found, move=given_move)
        if not moves:
            return found
        each = ", ".join(
            text("rep.found_move", move=move, n=moves.count(move)) for move in dict.fromkeys(moves)
        )
        return text("rep.found_each", found=found, each=each)

    def translate(self, text: str) -> str:
        """Translate a message into this language and these units; plain text is unchanged."""
        return self.texts.translate(text)

    def text(self, key: str, **values: object) -> str:
        """Return a text of the catalogue by section and name, with its placeholders filled."""
        return self.texts.text(key, **values)

    def section(self, name: str) -> Mapping[str, str]:
        """Return all texts of a section, for a page."""
        section: Mapping[str, str] = self.texts.table[name]
        return section

    def title(self, key: str) -> str:
        """Title of a measure, as a row heading; its key with spaces if it has none."""
        return self.texts.title(key)

    def verdict(self, word: VerdictWord, side: str | None = None) -> str:
        """Return a verdict as text, with the side on which a value is out of range."""
        verdict = self.texts.named("verdicts", word.replace(" ", "_"))
        return f"{verdict}, {self.texts.named('verdicts', side)}" if side else verdict

    def ground(self, text: str) -> str:
        """Translate who set a range or why, if shipped with the program; other text stays."""
        if isinstance(text, Message):
            parts = {name: self.ground(part) for name, part in text.values.items()}
            return self.texts.text(text.key, **parts)
        for name, english in shipped_texts(ENGLISH)["grounds"].items():
            if english == text:
                return self.texts.text(f"grounds.{name}")
        return text

    def weight_of(self, move: str, key: str) -> float:
        """How much it helps a player of this move to hear of a measure: 1 most, 0 never reported.

        What has no weight of its own follows from its place in the order of the move: 1, then
        `LATER_WEIGHT` of the one before; what is not in the order comes after all that is.
        """
        own = self.weight.get(move, {}).get(key)
        if own is not None:
            return own
        order = self.order.get(move, ())
        return LATER_WEIGHT ** (order.index(key) if key in order else len(order))

    def for_move(self, move: str) -> Words:
        """Return the words with the phrases of each measure for this move."""
        differ = self.of_move.get(move, {})
        if not differ:
            return self
        own = {key: {**self.measure.get(key, {}), **phrases} for key, phrases in differ.items()}
        return replace(self, measure={**self.measure, **own})


COACHS_WORDS = file_name(ENGLISH)
"""A coach's own English words in the data folder; those of other languages are called alike."""

SHIPPED_WORDS = shipped_path(ENGLISH)

COVERAGE_FACTOR = 1.96
"""Standard uncertainties in half of a 95 % interval of a normal distribution."""


def load_words(
    path: Path | None = None, language: Language | None = None, units: Units | None = None
) -> Words:
    """Read the shipped sentences of a language and, over them, a coach's own.

    Parameters
    ----------
    path
        A file with the sentences that differ; None for the coach's in the data folder, which is
        ``words.toml`` or, of another language, such as ``words.es.toml``, if there is one.
    language, units
        What to read in; None = from the environment, else English and metric.

    Returns
    -------
    Words
        All sentences.

    Raises
    ------
    SettingsError
        A file cannot be read, has an unknown entry, or names something in braces that is
        not available; with file and line. The environment sets an unknown language or unit.
    """
    language = environment_language() if language is None else language
    units = environment_units() if units is None else units
    own = data_folder() / file_name(language) if path is None else path
    english = data_folder() / COACHS_WORDS
    return _read(
        language,
        units,
        own if path is not None or own.exists() else None,
        english if language != ENGLISH and english.exists() else None,
    )


def words_of(analysis: Analysis) -> Words:
    """Load the words in which an analysis is read."""
    return load_words(language=analysis.language, units=analysis.units)


@lru_cache(maxsize=8)
def _read(language: Language, units: Units, own: Path | None, english: Path | None) -> Words:
    table = read_words(language, own, english)
    table["order"] = {move: tuple(keys) for move, keys in table["order"].items()}
    sections = {field.name: table[field.name] for field in fields(Words) if field.name in table}
    return Words(**sections, texts=texts_of(table, units), language=language)


def half_width_95(measurement: Measurement) -> float | None:
    """Half of the 95 % interval, which the texts call "give or take"; None if unknown.

    Two standard uncertainties and not one: a reader takes "1.71 m, give or take 0.04 m" to mean
    that the true value is nearly always in there, and verdicts then agree with what is read.
    """
    if measurement.interval95 is not None:
        low, high = measurement.interval95
        return 0.5 * (high - low)
    return None if measurement.u is None else COVERAGE_FACTOR * measurement.u


def number_text(words: Words, measurement: Measurement) -> str:
    """Write a measured value with its uncertainty: ``1.71 m, give or take 0.04 m``.

    The half width is rounded up, so that what is shown never promises more than is known.

    Raises
    ------
    ValueError
        The measurement has no value.
    """
    if measurement.value is None:
        raise ValueError(f"{measurement.key}: it has no number")
    key, half_width = measurement.key, half_width_95(measurement)
    if _is_count(key) and half_width is not None and round(half_width) == 0:
        half_width = None
    elif _is_count(key) and half_width is not None and math.isfinite(half_width):
        half_width = float(round(half_width))
    return _with_half_width(words, key, measurement.value, half_width, _decimals(key))


def rep_text(rep: Rep, side: FieldSide, words: Words | None = None) -> str:
    """Return time, top hand and field side of a rep as text, or why the side is unknown."""
    texts = (words or load_words()).texts
    hand = texts.text(f"rep.hand_{rep.stick_hand}") if rep.stick_hand else ""
    if side.side is None:
        side_of = texts.text("rep.side_unknown", reason=side.reason)
    else:
        side_of = texts.text(f"rep.side_{side.side}")
    return texts.text("rep.when", start=rep.start_s, stop=rep.stop_s, hand=hand, side_of=side_of)


def mean_text(words: Words, key: str, mean: float, half_width: float | None = None) -> str:
    """Write a mean over reps, with its half width if known; counts with one decimal."""
    decimals = max(1, _decimals(key)) if _is_count(key) else _decimals(key)
    known = half_width if half_width is not None and half_width > 0.0 else None
    return _with_half_width(words, key, mean, known, decimals)


def range_text(words: Words, target: TargetRange) -> str:
    """Return a range in the measure's own unit: ``1.41 to 1.80 m``, ``at least 0.45 m``."""
    key = target.key
    if target.low is None and target.high is None:
        return words.translate(target.words)
    if target.high is None:
        low = _with_unit(words, key, _known(target.low))
        return words.numbers["at_least"].format(low=low)
    high = _with_unit(words, key, target.high)
    if target.low is None:
        return words.numbers["at_most"].format(high=high)
    if target.low == target.high:
        return words.numbers["exactly"].format(low=high)
    return words.numbers["between"].format(low=plain_number(key, target.low, words), high=high)


def plain_number(key: str, value: float, words: Words | None = None) -> str:
    """Write a value with the decimals of its measure, as below a column that names its unit.

    Never a minus before a zero. A length in feet carries its units: `column_unit` is empty then.
    """
    figures = (words or load_words(language=ENGLISH, units="metric")).texts.figures
    return figures.in_column(value, unit_word_of(key), _decimals(key))


def column_unit(words: Words, key: str) -> str:
    """Return the unit for the heading of a column of `plain_number`; empty without a unit."""
    return words.texts.figures.column(unit_word_of(key)) if key in MEASURES else ""


def tick_text(words: Words, value: float) -> str:
    """Write a round number of an axis as short as it is: ``0.25``, ``1``, ``-10``."""
    return f"{value:g}".replace(".", words.texts.figures.decimal)


def listed(words: Words, parts: Sequence[object]) -> str:
    """Return a list as text: ``1, 2 and 4``."""
    texts = [str(part) for part in parts]
    if len(texts) == 1:
        return texts[0]
    return words.cautions["and"].format(list=", ".join(texts[:-1]), **{"and": texts[-1]})


def raised(sentence: str) -> str:
    """Return the sentence with its first letter raised."""
    return sentence[:1].upper() + sentence[1:]


def _with_half_width(
    words: Words, key: str, value: float, half_width: float | None, decimals: int
) -> str:
    figures, unit = words.texts.figures, unit_word_of(key)
    shown = figures.quantity(value, unit, decimals)
    if half_width is None or not math.isfinite(half_width):
        return words.numbers["sure"].format(value=shown)
    return words.numbers["with_uncertainty"].format(
        value=shown, half_width=figures.half_width(half_width, value, unit, decimals)
    )


def _with_unit(words: Words, key: str, value: float) -> str:
    return words.texts.figures.quantity(value, unit_word_of(key), _decimals(key))


def _decimals(key: str) -> int:
    if key in MEASURES:
        return MEASURES[key].decimals
    return 0 if key.endswith("_deg") else 2


def _is_count(key: str) -> bool:
    return key in MEASURES and MEASURES[key].is_count


def _known(bound: float | None) -> float:
    return math.nan if bound is None else bound
