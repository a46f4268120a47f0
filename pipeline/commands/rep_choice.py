"""Which rep of a clip is meant: by its number, the latest, or the best with the reason why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.core.errors import SettingsError
from pipeline.core.results import RepResult

BEST, LATEST = "best", "latest"


@dataclass(frozen=True, slots=True, kw_only=True)
class RepChoice:
    """A rep that was chosen.

    Attributes
    ----------
    result
        The rep.
    n_in_range, n_judged
        How many of its numbers lie in the coach's ranges, of how many that were measured and have
        a range.
    by
        ``best``, ``latest`` or ``number``.
    """

    result: RepResult
    n_in_range: int
    n_judged: int
    by: str


def choose_rep(results: Sequence[RepResult], wanted: str, *, clip_name: str) -> RepChoice:
    """Choose a rep of a clip.

    The best rep has the most numbers in range; among equals, that of which this is the surest, by
    the sum of the probabilities that each number lies in its range; among those the later one.

    Parameters
    ----------
    results
        Reps of the clip.
    wanted
        Number of a rep as in the report, ``latest``, or ``best``.
    clip_name
        For the message.

    Raises
    ------
    SettingsError
        There is no such rep, or none can be called the best.
    """
    if not results:
        raise SettingsError.of("no_rep_to_compare", clip=clip_name)
    if wanted == LATEST:
        return _choice(results[-1], LATEST)
    if wanted == BEST:
        best = max(results, key=lambda result: (*_standing(result), result.rep.index))
        if _standing(best)[0] == 0:
            raise SettingsError.of("no_best_rep", clip=clip_name)
        return _choice(best, BEST)
    by_number = {str(result.rep.index): result for result in results}
    if wanted not in by_number:
        first, last = results[0].rep.index, results[-1].rep.index
        said = {"clip": clip_name, "rep": wanted, "best": BEST, "latest": LATEST}
        if first == last:
            raise SettingsError.of("no_such_rep_of_one", **said, only=first)
        raise SettingsError.of("no_such_rep_of_several", **said, first=first, last=last)
    return _choice(by_number[wanted], "number")


def split_clip_and_rep(text: str) -> tuple[str, str]:
    """Split what was typed, such as ``film.mp4:2``, into the clip and the rep.

    Raises
    ------
    SettingsError
        It has no rep.

    Examples
    --------
    >>> split_clip_and_rep("C:/film.mp4:best")
    ('C:/film.mp4', 'best')
    """
    clip, colon, rep = text.rpartition(":")
    if not colon or not (rep.isdecimal() or rep in (BEST, LATEST)):
        raise SettingsError.of("rep_not_said", typed=text, best=BEST, latest=LATEST)
    return clip, rep if rep in (BEST, LATEST) else str(int(rep))


def _standing(result: RepResult) -> tuple[int, float]:
    """Count the numbers in range, and sum the probabilities of that."""
    judged = [verdict for verdict in result.verdicts if verdict.target is not None]
    certain = sum(verdict.probability_inside or 0.0 for verdict in judged)
    return sum(verdict.word == "in range" for verdict in judged), certain


def _choice(result: RepResult, by: str) -> RepChoice:
    judged = [
        verdict
        for verdict in result.verdicts
        if verdict.target is not None and verdict.word != "not measured"
    ]
    return RepChoice(
        result=result, n_in_range=_standing(result)[0], n_judged=len(judged), by=by
    )  # fmt: skip
