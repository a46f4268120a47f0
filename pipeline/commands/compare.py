"""The command that shows two reps side by side, as film and as a strip of pictures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline.commands.clip_options import (
    cache_option,
    check_files,
    clip_options,
    faces_option,
    given_settings,
    make_writable_folder,
)
from pipeline.commands.help import command, option
from pipeline.commands.shared import debug_option, report_error
from pipeline.core.errors import CrossemetryError, SettingsError
from pipeline.log.log_request import LogRequest, allowed_settings
from pipeline.settings.settings import GivenSettings

if TYPE_CHECKING:
    from pipeline.core.results import Analysis, RepResult


@command("compare", help="compare")
@click.argument("first", metavar="CLIP:REP")
@click.argument("second", metavar="CLIP:REP")
@option(
    "--out", default="out", show_default=True, metavar="FOLDER", type=click.Path(path_type=Path),
    help="compare.out",
)  # fmt: skip
@clip_options
@cache_option
@faces_option
@debug_option
@click.pass_context
def compare_command(
    context: click.Context,
    /,
    first: str,
    second: str,
    out: Path,
    cache: Path | None,
    debug: bool,
    **options: Any,  # noqa: ANN401
) -> None:
    """Show two reps side by side, aligned at their key moment: film and pictures."""
    try:
        given = given_settings(n_clips=2, **options)
        check_files(given)
        make_writable_folder(out)
        lines = _compared((first, second), given, out, cache or out / ".cache")
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    for line in lines:
        click.echo(line)


def _compared(wanted: tuple[str, str], given: GivenSettings, out: Path, cache: Path) -> list[str]:
    """Write film and strip; returns lines on the chosen reps and both paths."""
    parts = [split_clip_and_rep(text) for text in wanted]
    paths = [Path(name) for name, _ in parts]
    settings = [allowed_settings(path, given) for path in paths]
    for path, own in zip(paths, settings, strict=True):
        LogRequest().note_folders(path, own.athlete, out=out, cache=cache, in_own_folder=False)
    # Slow imports come after the checks, so that a mistyped option fails at once.
    from pipeline.analysis import analyse_clip
    from pipeline.commands.terminal import progress_bar
    from pipeline.feedback.words import words_of
    from pipeline.report.pictures.side_by_side import ComparedRep, write_side_by_side

    lines, sides, done = [], [], {}
    for path, own, (_, rep) in zip(paths, settings, parts, strict=True):
        if path not in done:
            with progress_bar(path.name) as on_progress:
                done[path] = analyse_clip(path, own, cache_dir=cache, on_progress=on_progress)
        choice = choose_rep(done[path].reps, rep, clip_name=path.name)
        lines.append(_choice_line(done[path], choice))
        sides.append(
            ComparedRep(analysis=done[path], result=choice.result, hide_faces=own.hide_faces)
        )  # fmt: skip
    left, right = sides
    with progress_bar("compare") as on_progress:
        film, strip = write_side_by_side((left, right), out, on_progress=on_progress)
    words = words_of(left.analysis).overlay
    return [*lines, words["film"].format(path=film), words["pictures"].format(path=strip)]


def _choice_line(analysis: Analysis, choice: RepChoice) -> str:
    from pipeline.feedback.words import words_of

    named = {"best": "picked_best", "latest": "picked_latest"}.get(choice.by, "picked")
    return (
        words_of(analysis)
        .overlay[named]
        .format(
            clip=analysis.clip.path.name,
            number=choice.result.rep.index,
            inside=choice.n_in_range,
            judged=choice.n_judged,
        )
    )


BEST, LATEST = "best", "latest"


@dataclass(frozen=True, slots=True, kw_only=True)
class RepChoice:
    """A chosen rep.

    Attributes
    ----------
    result
        The rep.
    n_in_range, n_judged
        How many of its numbers are in range, and how many are measured and have a range.
    by
        ``best``, ``latest`` or ``number``.
    """

    result: RepResult
    n_in_range: int
    n_judged: int
    by: str


def choose_rep(results: Sequence[RepResult], wanted: str, *, clip_name: str) -> RepChoice:
    """Choose a rep of a clip.

    The best rep has the most numbers in range. Ties are broken by the sum of the probabilities
    that each number is in range, then by the later rep.

    Parameters
    ----------
    results
        Reps of the clip.
    wanted
        Number of a rep as in the report, ``latest``, or ``best``.
    clip_name
        Name of the clip for the error.

    Raises
    ------
    SettingsError
        There is no such rep, or no rep with a number in range.
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
        values = {"clip": clip_name, "rep": wanted, "best": BEST, "latest": LATEST}
        if first == last:
            raise SettingsError.of("no_such_rep_of_one", **values, only=first)
        raise SettingsError.of("no_such_rep_of_several", **values, first=first, last=last)
    return _choice(by_number[wanted], "number")


def split_clip_and_rep(text: str) -> tuple[str, str]:
    """Split an argument such as ``film.mp4:2`` into clip and rep.

    Raises
    ------
    SettingsError
        It names no rep.

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
    """Count the numbers in range, and sum the probabilities of being in range."""
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
