"""The table of reps in the terminal: a few numbers of each rep, in 80 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass, replace

from pipeline.core.results import Measurement, RepResult, Verdict
from pipeline.core.types import Rep
from pipeline.feedback.priority import ranked_verdicts
from pipeline.feedback.words import Words, number_text

WIDTH = 80
NUMBERS_PER_REP = 2
_INDENT = 5
_GAP = "  "


@dataclass(frozen=True, slots=True)
class _Row:
    """One number of a rep as four texts, or a sentence if no number is known."""

    title: str = ""
    number: str = ""
    half_width: str = ""
    verdict: str = ""
    sentence: str = ""


def rep_table(results: Sequence[RepResult], words: Words) -> list[str]:
    """Lay out the reps, each with its one or two most important numbers.

    Parameters
    ----------
    results
        Of the reps, in the order of the clip.
    words
        Texts.

    Returns
    -------
    list of str
        Lines of at most `WIDTH` characters; empty without reps.
    """
    if not results:
        return []
    texts = words.terminal
    rows = [_rows_of(result, words) for result in results]
    heads = [_head_of(result.rep, words) for result in results]
    titles = (texts["rep"], texts["when"], texts["move"], texts["hand"])
    widths = [max(map(len, column)) for column in zip(titles, *heads, strict=True)]
    widths[0] = max(widths[0], _INDENT - len(_GAP))
    below = (texts["measure"], texts["number"], texts["give_or_take"], texts["verdict"])
    numbers = [row for of_rep in rows for row in of_rep if not row.sentence]
    columns = [
        max(len(title), *(len(text) for text in texts), 0)
        for title, texts in zip(
            below[1:],
            (
                [row.number for row in numbers],
                [row.half_width for row in numbers],
                [row.verdict for row in numbers],
            ),
            strict=True,
        )
    ]
    longest = max((len(row.title) for row in numbers), default=0)
    room = WIDTH - _INDENT - sum(columns) - 3 * len(_GAP)
    title_width = max(len(below[0]), min(longest, room))
    lines = [_joined(titles, widths)]
    if numbers:
        lines += _laid_out(_Row(*below), title_width, columns)
    for head, of_rep in zip(heads, rows, strict=True):
        lines.append(_joined(head, widths))
        for row in of_rep:
            lines += _laid_out(row, title_width, columns)
    return lines


def _rows_of(result: RepResult, words: Words) -> list[_Row]:
    move = result.rep.move
    verdicts = {verdict.key: verdict for verdict in result.verdicts if verdict.target is not None}
    ranked = ranked_verdicts(move, result.verdicts, result.measurements, words.weight_of)
    # Judged numbers only, if there are any; measured numbers come first.
    keys = [verdict.key for verdict in ranked]
    if not keys:
        keys = sorted(result.measurements, key=lambda key: -words.weight_of(move, key))
    keys.sort(key=lambda key: result.measurements[key].value is None)
    shown = [result.measurements[key] for key in keys[:NUMBERS_PER_REP]]
    if not shown:
        return [_Row(sentence=words.terminal["nothing"])]
    if shown[0].value is None:
        return [_not_measured(shown[0], words)]
    return [
        _number(measurement, verdicts.get(measurement.key), words)
        for measurement in shown
        if measurement.value is not None
    ]


def _number(measurement: Measurement, verdict: Verdict | None, words: Words) -> _Row:
    # Value and half-width as in all other texts, in two columns.
    parted = replace(words, numbers={**words.numbers, "with_uncertainty": "{value}\t{half_width}"})
    number, _, half_width = number_text(parted, measurement).partition("\t")
    return _Row(words.title(measurement.key), number, half_width, _verdict_words(verdict, words))


def _not_measured(measurement: Measurement, words: Words) -> _Row:
    reason = words.terminal["reason"].format(reason=words.translate(measurement.reason or ""))
    return _Row(sentence=f"{words.title(measurement.key)}. {reason}")


def _verdict_words(verdict: Verdict | None, words: Words) -> str:
    if verdict is None:
        return words.terminal["no_range"]
    return words.verdict(verdict.word, verdict.side)


def _head_of(rep: Rep, words: Words) -> tuple[str, str, str, str]:
    texts = words.terminal
    move = words.move_name(rep.move)
    if rep.move_by == "found" and rep.move != "unknown":
        move = words.text("terminal.found", move=move, sure=rep.move_probability)
    when = words.text("terminal.span", start=rep.start_s, stop=rep.stop_s)
    hand = texts[rep.stick_hand] if rep.stick_hand else texts["hand_not_known"]
    return str(rep.index), when, move, hand


def _joined(texts: Sequence[str], widths: Sequence[int]) -> str:
    first = texts[0].rjust(widths[0])
    rest = (text.ljust(width) for text, width in zip(texts[1:], widths[1:], strict=True))
    return _GAP.join((first, *rest)).rstrip()


def _laid_out(row: _Row, title_width: int, columns: Sequence[int]) -> list[str]:
    indent = " " * _INDENT
    if row.sentence:
        return textwrap.wrap(row.sentence, WIDTH, initial_indent=indent, subsequent_indent=indent)
    title = textwrap.wrap(row.title, title_width) or [""]
    texts = (row.number, row.half_width, row.verdict)
    aligned = (text.ljust(width) for text, width in zip(texts, columns, strict=True))
    lines = [_GAP.join((f"{indent}{title[0]:<{title_width}}", *aligned)).rstrip()]
    return lines + [f"{indent}{more}" for more in title[1:]]
