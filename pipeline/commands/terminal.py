"""Terminal output of an analysis: progress bar, early findings and summary."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from textwrap import wrap

import click

from pipeline.commands.rep_table import WIDTH, rep_table
from pipeline.core.progress import Progress, ProgressCallback, ignore_progress
from pipeline.core.results import Analysis
from pipeline.feedback.words import Words, load_words, words_of
from pipeline.film_check.finding import Finding, finding_lines, heading

LONGEST_NAME = 24
"""Greatest number of characters of a clip's name before the bar."""


@contextmanager
def progress_bar(
    clip_name: str,
    words: Words | None = None,
    *,
    number: tuple[int, int] = (1, 1),
    quiet: bool = False,
) -> Iterator[ProgressCallback]:
    """Give a callback that draws a progress bar on stderr, if that is a terminal.

    Parameters
    ----------
    clip_name
        Shown before the bar.
    words
        Texts; None = in the language of the environment.
    number
        Number of the clip, and count of clips.
    quiet
        Whether to draw nothing.

    Yields
    ------
    ProgressCallback
        Takes each `Progress`.
    """
    if quiet or not sys.stderr.isatty():
        yield ignore_progress
        return
    from rich.console import Console
    from rich.markup import escape
    from rich.progress import BarColumn, MofNCompleteColumn, ProgressColumn, Task, TextColumn
    from rich.progress import Progress as Bar
    from rich.table import Column
    from rich.text import Text

    texts = (words or load_words()).terminal
    which, count = number
    name = clip_name
    if len(name) > LONGEST_NAME:  # the end of a phone's file name differs more than its start
        name = "…" + name[1 - LONGEST_NAME :]
    if count > 1:
        name = texts["clip_of"].format(number=which, count=count, name=name)

    class TimeLeft(ProgressColumn):
        """Time left, as soon as it is known."""

        max_refresh = 0.5

        def render(self, task: Task) -> Text:
            left_s = task.time_remaining
            return Text("" if left_s is None else texts["time_left"].format(time=_clock(left_s)))

    with Bar(
        # Always one line: a narrow terminal cuts it off.
        TextColumn(escape(name), table_column=Column(no_wrap=True)),
        TextColumn("{task.description}", table_column=Column(no_wrap=True)),
        BarColumn(bar_width=10),
        MofNCompleteColumn(table_column=Column(no_wrap=True)),
        TimeLeft(table_column=Column(no_wrap=True)),
        console=Console(stderr=True),
        transient=True,
    ) as bar:
        task = bar.add_task(texts["opening"], total=None)

        def show(progress: Progress) -> None:
            bar.update(
                task,
                description=texts.get(progress.stage, progress.stage),
                completed=progress.done,
                total=progress.total,
            )

        yield show


def _clock(left_s: float) -> str:
    """Minutes and seconds: ``2:05``."""
    minutes, seconds = divmod(round(left_s), 60)
    return f"{minutes}:{seconds:02d}"


class EarlyFindings:
    """Prints the limiting findings of the film check on stderr, unless quiet.

    Attributes
    ----------
    notes
        Notes of the printed findings, as in the analysis.
    """

    def __init__(self, clip_name: str, words: Words | None = None, *, quiet: bool = False) -> None:
        self.notes: list[str] = []
        self._words = words or load_words()
        self._clip_name = clip_name
        self._quiet = quiet

    def __call__(self, findings: Sequence[Finding]) -> None:
        """Take the findings of the film check."""
        limits = [finding for finding in findings if finding.limits]
        self.notes += [finding.note for finding in limits]
        if limits and not self._quiet:
            texts = self._words.texts
            lines = [heading(self._clip_name, findings, texts), *finding_lines(limits, texts)]
            click.echo("\n".join(lines), err=True)


def summary(analysis: Analysis, written: list[Path], shown_before: Sequence[str] = ()) -> str:
    """Summarise a clip in a few lines of plain text.

    Parameters
    ----------
    analysis
        The result for the clip.
    written
        Written files; only report and film are listed.
    shown_before
        Notes that were shown already and are left out.

    Returns
    -------
    str
        What was found, a table of the reps, sentences on all of them, and the path of the report.
    """
    words = words_of(analysis)
    found = words.found_text(analysis.move, [result.rep.move for result in analysis.reps])
    lines = [f"{analysis.clip.path.name}: {found}", *rep_table(analysis.reps, words)]
    sentences = [
        ("session", text) for text in (analysis.session.sentences if analysis.session else ())
    ]
    sentences += [
        ("note", words.translate(note)) for note in analysis.notes if note not in shown_before
    ]
    for name, text in sentences:
        sentence = words.terminal[name].format(said=text)
        lines += wrap(sentence, WIDTH, initial_indent="  ", subsequent_indent="    ")
    reports = [path for path in written if path.name == "report.html"]
    lines += ["  " + words.terminal["report"].format(path=path) for path in reports]
    films = [path for path in written if path.suffix == ".mp4"]
    lines += ["  " + words.overlay["film"].format(path=path) for path in films]
    return "\n".join(lines)
