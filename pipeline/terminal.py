"""What the command line shows: a progress bar while it works, a short summary when it is done."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pipeline.measures.table import MEASURES
from pipeline.progress import Progress, ProgressCallback, ignore_progress
from pipeline.types import Analysis, Measurement, RepResult, Verdict


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


def summary(analysis: Analysis, written: list[Path]) -> str:
    """Sum up a clip in a few lines of plain text.

    Parameters
    ----------
    analysis
        The result for the clip.
    written
        The files that were written for it; the report is named, the others are not.

    Returns
    -------
    str
        Lines with what was found, each judged or measured number with its give-or-take, and where
        the report lies.
    """
    count = len(analysis.reps)
    move = analysis.move.replace("_", " ")
    lines = [f"{analysis.clip.path.name}: {count} {'rep' if count == 1 else 'reps'} of {move}"]
    for result in analysis.reps:
        lines += _rep_lines(result)
    lines += [f"  note: {note}" for note in analysis.notes]
    lines += [f"  report: {path}" for path in written if path.name == "report.html"]
    return "\n".join(lines)


def _rep_lines(result: RepResult) -> list[str]:
    rep = result.rep
    hand = f", {rep.stick_hand} hand on top" if rep.stick_hand else ""
    lines = [f"  rep {rep.index}: {rep.start_s:.1f} to {rep.stop_s:.1f} s{hand}"]
    verdicts = {verdict.key: verdict for verdict in result.verdicts if verdict.target is not None}
    judged = [key for key in result.measurements if key in verdicts]
    titles = {key: MEASURES[key].title for key in judged}
    width = max((len(title) for title in titles.values()), default=0)
    for key in judged:
        words = _number_words(result.measurements[key], verdicts[key])
        lines.append(f"    {titles[key]:<{width}}  {words}")
    return lines


def _number_words(measurement: Measurement, verdict: Verdict) -> str:
    if measurement.value is None or measurement.u is None:
        return f"not measured: {measurement.reason}"
    info = MEASURES[measurement.key]
    unit = "" if measurement.unit == "1" else f" {measurement.unit}"
    number = f"{measurement.value:.{info.decimals}f}{unit}, give or take "
    # Two standard uncertainties: what a reader takes "give or take" to promise.
    number += f"{2 * measurement.u:.{info.decimals}f}{unit}"
    side = f" ({verdict.side})" if verdict.side else ""
    target = f"; target {verdict.target.words}" if verdict.target else ""
    return f"{number}: {verdict.word}{side}{target}"
