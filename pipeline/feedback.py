"""Feedback: per rep at most two sentences, what went well first, and one thing to try next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pipeline.measures.table import measures_of
from pipeline.types import Measurement, TargetRange, Verdict
from pipeline.words import Words, load_words, raised, say_number, say_range

MOST_SENTENCES = 2


def tell_rep(
    move: str,
    measurements: Mapping[str, Measurement],
    verdicts: Sequence[Verdict],
    words: Words | None = None,
) -> tuple[str, ...]:
    """Say what went well in a rep and what to try next.

    One sentence of praise at most and one piece of advice at most, so that no two sentences can
    pull in different directions. The measures that matter most for the move come first; if the
    first of them could not be measured, that is said rather than something smaller.

    Parameters
    ----------
    move
        Key of the move.
    measurements
        Of the rep, by measure key.
    verdicts
        Of the rep.
    words
        Sentences; the shipped ones by default.

    Returns
    -------
    tuple of str
        One or two sentences.
    """
    words = words or load_words()
    if move == "unknown":
        return (words.sentences["unknown"],)
    ranked = _ranked(move, verdicts, words)
    good = _first(ranked, "in range")
    other = _what_else(ranked)
    said = []
    if good is not None:
        said.append(_say_good(words, measurements[good.key], good, last=other is None))
    if other is not None:
        said.append(_say_other(words, measurements[other.key], other))
    if not said:
        said.append(_say_without_range(move, measurements, words))
    return tuple(said[:MOST_SENTENCES])


def _ranked(move: str, verdicts: Sequence[Verdict], words: Words) -> list[Verdict]:
    """Verdicts that have a range, those that matter most first."""
    order = words.order.get(move, ())
    table = [info.key for info in measures_of(move)]
    rank = {key: place for place, key in enumerate(dict.fromkeys((*order, *table)))}
    with_range = [verdict for verdict in verdicts if verdict.target is not None]
    return sorted(with_range, key=lambda verdict: rank.get(verdict.key, len(rank)))


def _first(ranked: Sequence[Verdict], word: str) -> Verdict | None:
    return next((verdict for verdict in ranked if verdict.word == word), None)


def _what_else(ranked: Sequence[Verdict]) -> Verdict | None:
    """Find what is worth saying beside praise: a clear miss, then a gap in the chief measure."""
    missed = _first(ranked, "out of range")
    if missed is not None:
        return missed
    if ranked and ranked[0].word == "not measured":
        return ranked[0]
    return _first(ranked, "too close to call") or _first(ranked, "not measured")


def _say_good(words: Words, measurement: Measurement, verdict: Verdict, *, last: bool) -> str:
    name = "good_again" if last else "good"
    return words.sentences[name].format(**_parts(words, measurement, _target(verdict)))


def _say_other(words: Words, measurement: Measurement, verdict: Verdict) -> str:
    phrases = words.measure[verdict.key]
    if verdict.word == "not measured":
        reason = (measurement.reason or "").rstrip(".")
        return words.sentences["not_measured"].format(name=phrases["name"], reason=reason)
    target = _target(verdict)
    parts = _parts(words, measurement, target)
    if verdict.word == "out of range":
        side = verdict.side or "low"
        return words.sentences["out"].format(
            **parts, wrong=phrases[side], **{"try": phrases[f"try_{side}"]}
        )
    if target.high is None:
        aim = "aim_at_least"
    else:
        aim = "aim_at_most" if target.low is None else "aim_between"
    return words.sentences["close"].format(**parts, aim=words.sentences[aim])


def _say_without_range(move: str, measurements: Mapping[str, Measurement], words: Words) -> str:
    """No range applies: the chief number, or else the chief reason for having none."""
    rows = [info.key for info in measures_of(move)]
    keys = [key for key in (*words.order.get(move, ()), *rows) if key in measurements]
    for key in keys:
        if measurements[key].value is not None:
            said = _said(words, measurements[key])
            return words.sentences["no_range"].format(Said=raised(said))
    for key in keys:
        return words.sentences["not_measured"].format(
            name=words.measure[key]["name"], reason=(measurements[key].reason or "").rstrip(".")
        )
    return words.sentences["nothing"]


def _parts(words: Words, measurement: Measurement, target: TargetRange) -> dict[str, str]:
    said = _said(words, measurement)
    return {"said": said, "Said": raised(said), "range": say_range(words, target)}


def _said(words: Words, measurement: Measurement) -> str:
    return words.measure[measurement.key]["said"].format(number=say_number(words, measurement))


def _target(verdict: Verdict) -> TargetRange:
    if verdict.target is None:
        raise ValueError(f"{verdict.key}: a verdict without a range cannot be put into words")
    return verdict.target
