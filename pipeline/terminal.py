"""What the command line shows: a progress bar while it works, a short summary when it is done."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import click

from pipeline.finding import Finding, heading, told
from pipeline.measures.table import MEASURES
from pipeline.progress import Progress, ProgressCallback, ignore_progress
from pipeline.result_types import Analysis, RepResult, Verdict
from pipeline.types import Rep
from pipeline.words import Words, load_words, say_number, say_range


@contextmanager
def progress_bar(clip_name: str) -> Iterator[ProgressCallback]:
    """Give a callback that draws a bar with the time left on stderr; silent unless on a terminal.

    Parameters
    ----------
    clip_name
        Shown before the bar.

    Yields
    ------
    ProgressCallback
        To be called with each `Progress`.
    """
    if not sys.stderr.isatty():
        yield ignore_progress
        return
    from rich.console import Console
    from rich.markup import escape
    from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bar

    with Bar(
        TextColumn(escape(clip_name)),
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
    ) as bar:
        task = bar.add_task("opening", total=None)

        def show(progress: Progress) -> None:
            bar.update(
                task, description=progress.stage, completed=progress.done, total=progress.total
            )

        yield show


class EarlyFindings:
    """Prints on stderr what limits a film, before the long work.

    Attributes
    ----------
    notes
        What was said, as it will stand in the notes.
    """

    def __init__(self, clip_name: str) -> None:
        self.notes: list[str] = []
        self._clip_name = clip_name

    def __call__(self, findings: Sequence[Finding]) -> None:
        """Take the findings of the film check."""
        limits = [finding for finding in findings if finding.limits]
        self.notes += [finding.note for finding in limits]
        if limits:
            lines = [heading(self._clip_name, findings), *told(limits)]
            click.echo("\n".join(lines), err=True)


def summary(analysis: Analysis, written: list[Path], said_before: Sequence[str] = ()) -> str:
    """Sum up a clip in a few lines of plain text.

    Parameters
    ----------
    analysis
        The result for the clip.
    written
        The files that were written for it; report and film are named, the others are not.
    said_before
        Notes that were told already, and are not told again.

    Returns
    -------
    str
        Lines with what was found, each judged or measured number with its give-or-take, and where
        the report lies.
    """
    words = load_words()
    found = words.say_found(analysis.move, [result.rep.move for result in analysis.reps])
    lines = [f"{analysis.clip.path.name}: {found}"]
    for result in analysis.reps:
        lines += _rep_lines(result, words)
    lines += [f"  session: {said}" for said in analysis.session.said] if analysis.session else []
    lines += [f"  note: {note}" for note in analysis.notes if note not in said_before]
    lines += [f"  report: {path}" for path in written if path.name == "report.html"]
    lines += [f"  film: {path}" for path in written if path.suffix == ".mp4"]
    return "\n".join(lines)


def _rep_lines(result: RepResult, words: Words) -> list[str]:
    rep = result.rep
    hand = f", {rep.stick_hand} hand on top" if rep.stick_hand else ""
    named = "" if rep.move_by == "told" else f"{_named(rep, words)}, "
    lines = [f"  rep {rep.index}: {named}{rep.start_s:.1f} to {rep.stop_s:.1f} s{hand}"]
    judged = [verdict for verdict in result.verdicts if verdict.target is not None]
    width = max((len(MEASURES[verdict.key].title) for verdict in judged), default=0)
    for verdict in judged:
        title = MEASURES[verdict.key].title
        lines.append(f"    {title:<{width}}  {_judged_words(result, verdict, words)}")
    return lines


def _named(rep: Rep, words: Words) -> str:
    name = words.move_name(rep.move)
    return name if rep.move == "unknown" else f"{name} ({100 * rep.move_probability:.0f} % sure)"


def _judged_words(result: RepResult, verdict: Verdict, words: Words) -> str:
    measurement = result.measurements[verdict.key]
    if measurement.value is None:
        return f"not measured: {measurement.reason}"
    side = f", {verdict.side}" if verdict.side else ""
    target = f" (range: {say_range(words, verdict.target)})" if verdict.target else ""
    return f"{say_number(words, measurement)}: {verdict.word}{side}{target}"
