"""Feedback of a session: one thing that went well, one to work on, and whether it changed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from pipeline.core.results import (
    Measurement,
    MeasureSummary,
    MoveSummary,
    RepResult,
    SessionPoint,
    SessionSummary,
    Side,
    TargetRange,
)
from pipeline.feedback.cautions import raised_flags
from pipeline.feedback.priority import Worth, held_back, praise_held_back, worth_of
from pipeline.feedback.rep_feedback import with_rider
from pipeline.feedback.session_summary import CONFIDENCE, FEWEST_FOR_TREND, mean_of, move_summaries
from pipeline.feedback.words import (
    COVERAGE_FACTOR,
    Words,
    load_words,
    mean_text,
    raised,
    range_text,
)

FEWEST_REPS = 2
"""A single rep, of a clip or of a move, is no session: its feedback is that of the rep."""

LEAST_SHARE_OUT = 0.25
"""What is wrong in fewer reps than this is no habit, and is reported with its rep alone."""

LEAST_SHARE_IN = 0.5
"""What is right in fewer reps than this did not go well."""


@dataclass(slots=True)
class _Topic:
    """One measure of one move over the session.

    Attributes
    ----------
    move, key, target
        What it is and the range it is compared with.
    n_reps, n
        Reps of the move, and those in which it was judged.
    inside, low, high
        The worth and the number of each rep that was in range, or out of it on either side.
    """

    move: str
    key: str
    target: TargetRange
    n_reps: int
    n: int = 0
    inside: list[tuple[Worth, Measurement]] = field(default_factory=list)
    low: list[tuple[Worth, Measurement]] = field(default_factory=list)
    high: list[tuple[Worth, Measurement]] = field(default_factory=list)

    def score(self, scored: Sequence[tuple[Worth, Measurement]]) -> float:
        """Mean over all reps of the move of the score that the rep gives it; 0 if it gives none."""
        return sum(worth.score for worth, _ in scored) / self.n_reps

    def share(self, scored: Sequence[tuple[Worth, Measurement]]) -> float:
        """Share of the judged reps."""
        return len(scored) / max(self.n, 1)


def session_sentences(reps: Sequence[RepResult], words: Words | None = None) -> SessionSummary:
    """Sum up a clip in numbers and in at most three things.

    The same score decides as for a rep (`pipeline.feedback.priority`), as its mean over the reps of
    the move. What went well has to be in range in half of them at least, what to work on out of
    range in a quarter of them at least. Advice and praise that pull against a prompt to look in any
    rep of the move are left out. A change over the session is reported only if it exceeds
    chance with as many measures looked at as there are (Bonferroni).

    Parameters
    ----------
    reps
        In the order of the clip.
    words
        Sentences; the shipped ones by default.

    Returns
    -------
    SessionSummary
        Empty for fewer than two reps.
    """
    words = words or load_words()
    moves = move_summaries(reps)
    if len(reps) < FEWEST_REPS:
        return SessionSummary(moves=moves)
    flags = {
        move.move: {
            flag
            for result in reps
            if result.rep.move == move.move
            for flag in raised_flags(result.measurements, words)
        }
        for move in moves
    }
    topics = _topics(reps, words)
    several = len(moves) > 1
    work_on = _work_on(topics, flags, words, several=several)
    taken = None if work_on is None else (work_on.move, work_on.key)
    rest = [topic for topic in topics if (topic.move, topic.key) != taken]
    return SessionSummary(
        went_well=_went_well(rest, flags, words, several=several),
        work_on=work_on,
        trend=_trend(moves, words, several=several),
        moves=moves,
    )


def _topics(reps: Sequence[RepResult], words: Words) -> list[_Topic]:
    counts = Counter(result.rep.move for result in reps)
    found: dict[tuple[str, str], _Topic] = {}
    for result in reps:
        move = result.rep.move
        for verdict in result.verdicts:
            weight = words.weight_of(move, verdict.key)
            if verdict.target is None or verdict.word == "not measured" or weight <= 0.0:
                continue
            topic = found.setdefault(
                (move, verdict.key), _Topic(move, verdict.key, verdict.target, counts[move])
            )
            topic.n += 1
            measurement = result.measurements[verdict.key]
            worth = worth_of(verdict, measurement, weight)
            if worth is not None:
                side = {None: topic.inside, "low": topic.low, "high": topic.high}[worth.side]
                side.append((worth, measurement))
    return [topic for topic in found.values() if topic.n >= FEWEST_REPS]


def _went_well(
    topics: Sequence[_Topic],
    flags: dict[str, set[str]],
    words: Words,
    *,
    several: bool,
) -> SessionPoint | None:
    able = [
        topic
        for topic in topics
        if topic.share(topic.inside) >= LEAST_SHARE_IN
        and not praise_held_back(topic.key, flags[topic.move])
    ]
    if not able:
        return None
    best = max(able, key=lambda topic: topic.score(topic.inside))
    words = words.for_move(best.move)
    text = words.session["went_well"].format(
        inside=_of_reps(words, best, len(best.inside)),
        said=_mean_text(words, best.key, best.inside),
        range=range_text(words, best.target),
    )
    return _session_point(words, best.move, best.key, None, text, several=several)


def _work_on(
    topics: Sequence[_Topic],
    flags: dict[str, set[str]],
    words: Words,
    *,
    several: bool,
) -> SessionPoint | None:
    able = [topic for topic in topics if topic.share(topic.low + topic.high) >= LEAST_SHARE_OUT]
    for topic in sorted(able, key=lambda topic: topic.score(topic.low + topic.high), reverse=True):
        own = words.for_move(topic.move)
        if min(len(topic.low), len(topic.high)) >= LEAST_SHARE_OUT * topic.n:
            text = own.session["work_on_both"].format(
                name=own.measure[topic.key]["name"],
                below=len(topic.low),
                above=len(topic.high),
                n=topic.n,
                range=range_text(own, topic.target),
            )
            return _session_point(words, topic.move, topic.key, None, text, several=several)
        side: Side = "low" if topic.score(topic.low) >= topic.score(topic.high) else "high"
        if not held_back((topic.key, side), flags[topic.move]):
            text = _work_on_text(own, topic, side)
            return _session_point(words, topic.move, topic.key, side, text, several=several)
    return None


def _work_on_text(words: Words, topic: _Topic, side: Side) -> str:
    scored = topic.low if side == "low" else topic.high
    phrases = words.measure[topic.key]
    sentence = words.session["work_on"].format(
        out=_of_reps(words, topic, len(scored)),
        said=_mean_text(words, topic.key, scored),
        wrong=phrases[side],
        range=range_text(words, topic.target),
        **{"try": phrases[f"try_{side}"]},
    )
    return with_rider(words, sentence, (topic.key, side))


def _of_reps(words: Words, topic: _Topic, count: int) -> str:
    unseen = topic.n_reps - topic.n
    name = "of_reps_seen" if unseen else "of_reps"
    return words.session[name].format(count=count, n=topic.n, unseen=unseen)


def _mean_text(words: Words, key: str, scored: Sequence[tuple[Worth, Measurement]]) -> str:
    """Give the mean of the reps that the sentence is about, not of all."""
    mean, u = mean_of([measurement for _, measurement in scored])
    number = mean_text(words, key, mean, None if u is None else COVERAGE_FACTOR * u)
    return words.measure[key]["said"].format(number=number)


def _trend(moves: Sequence[MoveSummary], words: Words, *, several: bool) -> SessionPoint | None:
    """Report the surest change; else no change, by the measure that matters most."""
    known = [
        (move.move, measure)
        for move in moves
        for measure in move.measures
        if measure.trend is not None and measure.key in words.measure
    ]
    if not known:
        chief = max(moves, key=lambda move: move.n_reps)
        text = words.session["too_few"].format(least=FEWEST_FOR_TREND)
        return SessionPoint(move=chief.move, key="", side=None, text=text)
    chance = (1.0 - CONFIDENCE) / len(known)
    move, surest = min(known, key=lambda pair: _by_chance(pair[1]))
    name = "change"
    if _by_chance(surest) > chance:
        name = "no_change"
        move, surest = max(known, key=lambda pair: words.weight_of(pair[0], pair[1].key))
    trend = surest.trend
    if trend is None:  # known holds those that have one
        return None
    words = words.for_move(move)
    text = words.session[name].format(
        name=words.measure[surest.key]["name"],
        k=trend.n_third,
        early=mean_text(words, surest.key, trend.early),
        late=mean_text(words, surest.key, trend.late),
        smallest=mean_text(words, surest.key, trend.smallest_real_change),
    )
    return _session_point(words, move, surest.key, None, text, several=several)


def _by_chance(measure: MeasureSummary) -> float:
    return 1.0 if measure.trend is None else measure.trend.probability_by_chance


def _session_point(
    words: Words, move: str, key: str, side: Side | None, text: str, *, several: bool
) -> SessionPoint:
    """Make the sentence; where a clip holds several moves it begins with the name of the move."""
    if several:
        name = raised(words.move_name(move))
        text = words.session["of_move"].format(move=name, sentence=text)
    return SessionPoint(move=move, key=key, side=side, text=text)
