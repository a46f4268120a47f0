"""Feedback: per rep at most two things, what went well first, and one thing to try next."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from pipeline.core.results import Measurement, Side, TargetRange, Verdict
from pipeline.feedback.priority import held_back, praise_held_back, pull_apart, rule_of, worths
from pipeline.feedback.words import Words, load_words, number_text, raised, range_text
from pipeline.measures import measures_of
from pipeline.measures.advice import Advice

MOST_THINGS = 2

_AIMS: Mapping[Side, str] = {"low": "aim_at_least", "high": "aim_at_most"}


def rep_sentences(
    move: str,
    measurements: Mapping[str, Measurement],
    verdicts: Sequence[Verdict],
    words: Words | None = None,
    *,
    flags: Collection[str] = (),
    leading: Advice | None = None,
) -> tuple[str, ...]:
    """Say what went well in a rep and what to try next.

    One piece of praise at most and one piece of advice at most: what is surest, most useful and
    most in need of a change, by the score in `pipeline.feedback.priority`, and not what happens
    most often. Advice that pulls against a prompt to look in this rep, or against what the whole
    session advises to work on, is left out, and so is praise for it. If the chief measure of the
    move could not be measured and nothing is clearly out of range, that is reported rather than
    something smaller.

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
    flags
        Names of the prompts to look that the rep gives, as in `pipeline.feedback.cautions`.
    leading
        Advice that the session gives.

    Returns
    -------
    tuple of str
        One or two.
    """
    words = words or load_words()
    if move == "unknown":
        return (words.sentences["unknown"],)
    found = {verdict.key: verdict for verdict in verdicts if verdict.target is not None}
    scored = worths(move, verdicts, measurements, words.weight_of)
    words = words.for_move(move)
    good = next((w for w in scored if w.side is None and not praise_held_back(w.key, flags)), None)
    missed = [worth for worth in scored if worth.side is not None]
    other = next((found[w.key] for w in missed if _is_reported(found[w.key], flags, leading)), None)
    if other is None and not missed:
        other = _what_is_unsure(_ranked(move, found, words), flags, leading)
    sentences = []
    if good is not None:
        # Nobody is sent to game speed while there is something to look at first.
        last = other is None and not missed and not flags
        sentences.append(_good_sentence(words, measurements[good.key], found[good.key], last=last))
    if other is not None:
        sentences.append(_other_sentence(words, measurements[other.key], other))
    elif missed:
        # Advice on what is wrong would pull against something else.
        sentences.append(_held_back_sentence(words, measurements, found[missed[0].key], flags))
    if not sentences:
        # What is left has a range, and is in it or near it, but is not to be praised or pushed now.
        held = next((v for v in _ranked(move, found, words) if v.word != "not measured"), None)
        if held is not None:
            sentences.append(_held_back_sentence(words, measurements, held, flags))
        else:
            sentences.append(_without_range_sentence(move, measurements, words))
    return tuple(sentences[:MOST_THINGS])


def with_rider(words: Words, sentence: str, advice: Advice) -> str:
    """Add to an advice what must never be left out beside it."""
    rider = rule_of(advice).rider
    return sentence if rider is None else f"{sentence} {words.riders[rider]}"


def _advice_of(verdict: Verdict) -> Advice | None:
    """Which way a sentence about a verdict sends the player; None for neither way."""
    target = verdict.target
    if verdict.word == "out of range":
        return verdict.key, verdict.side or "low"
    if verdict.word != "too close to call" or target is None:
        return None
    if target.high is None:
        return verdict.key, "low"
    return (verdict.key, "high") if target.low is None else None


def _is_reported(verdict: Verdict, flags: Collection[str], leading: Advice | None) -> bool:
    advice = _advice_of(verdict)
    if advice is None:
        return True
    return not held_back(advice, flags) and (leading is None or not pull_apart(advice, leading))


def _ranked(move: str, found: Mapping[str, Verdict], words: Words) -> list[Verdict]:
    """Verdicts with a range that may be reported, the most useful first."""
    judged = [verdict for verdict in found.values() if words.weight_of(move, verdict.key) > 0.0]
    table = [info.key for info in measures_of(move)]
    place = {key: place for place, key in enumerate(table)}
    return sorted(
        judged,
        key=lambda verdict: (
            -words.weight_of(move, verdict.key),
            place.get(verdict.key, len(place)),
        ),
    )


def _what_is_unsure(
    ranked: Sequence[Verdict], flags: Collection[str], leading: Advice | None
) -> Verdict | None:
    """Find what is worth saying where nothing is clearly out: a gap in the chief measure first."""
    if ranked and ranked[0].word == "not measured":
        return ranked[0]
    for word in ("too close to call", "not measured"):
        for verdict in ranked:
            if verdict.word == word and _is_reported(verdict, flags, leading):
                return verdict
    return None


def _held_back_sentence(
    words: Words,
    measurements: Mapping[str, Measurement],
    verdict: Verdict,
    flags: Collection[str],
) -> str:
    parts = _parts(words, measurements[verdict.key], _target(verdict))
    return words.sentences["held_back" if flags else "only_number"].format(**parts)


def _good_sentence(words: Words, measurement: Measurement, verdict: Verdict, *, last: bool) -> str:
    name = "good_again" if last else "good"
    return words.sentences[name].format(**_parts(words, measurement, _target(verdict)))


def _other_sentence(words: Words, measurement: Measurement, verdict: Verdict) -> str:
    phrases = words.measure[verdict.key]
    if verdict.word == "not measured":
        reason = words.translate(measurement.reason or "").rstrip(".")
        return words.sentences["not_measured"].format(name=phrases["name"], reason=reason)
    target = _target(verdict)
    parts = _parts(words, measurement, target)
    advice = _advice_of(verdict)
    if verdict.word == "out of range":
        side = verdict.side or "low"
        sentence = words.sentences["out"].format(
            **parts, wrong=phrases[side], **{"try": phrases[f"try_{side}"]}
        )
    else:
        aim = "aim_between" if advice is None else _AIMS[advice[1]]
        sentence = words.sentences["close"].format(**parts, aim=words.sentences[aim])
    return sentence if advice is None else with_rider(words, sentence, advice)


def _without_range_sentence(
    move: str, measurements: Mapping[str, Measurement], words: Words
) -> str:
    """No range applies: the chief number, or else the chief reason for having none."""
    # A drill has no order of its own: its measures come in the order of the table.
    rows = [info.key for info in measures_of(move)] or list(measurements)
    keys = [key for key in (*words.order.get(move, ()), *rows) if key in measurements]
    for key in keys:
        if measurements[key].value is not None:
            value_text = _value_text(words, measurements[key])
            return words.sentences["no_range"].format(Said=raised(value_text))
    for key in keys:
        reason = words.translate(measurements[key].reason or "").rstrip(".")
        return words.sentences["not_measured"].format(
            name=words.measure[key]["name"], reason=reason
        )
    return words.sentences["nothing"]


def _parts(words: Words, measurement: Measurement, target: TargetRange) -> dict[str, str]:
    value_text = _value_text(words, measurement)
    return {"said": value_text, "Said": raised(value_text), "range": range_text(words, target)}


def _value_text(words: Words, measurement: Measurement) -> str:
    return words.measure[measurement.key]["said"].format(number=number_text(words, measurement))


def _target(verdict: Verdict) -> TargetRange:
    if verdict.target is None:
        raise ValueError(f"{verdict.key}: a verdict without a range cannot be put into words")
    return verdict.target
