"""Terminal output of an analysis: progress bar, early findings and summary."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from textwrap import shorten, wrap
from typing import TYPE_CHECKING

import click

from pipeline.commands.rep_table import WIDTH, rep_table
from pipeline.core.progress import Progress, ProgressCallback, ignore_progress
from pipeline.core.results import Analysis
from pipeline.feedback.words import Words, load_words, words_of
from pipeline.film_check.finding import Finding, finding_lines, heading

if TYPE_CHECKING:
    from rich.progress import Progress as Bar
    from rich.progress import ProgressColumn, Task, TaskID

    from pipeline.report.run_index import IndexRow

LONGEST_NAME = 24
"""Greatest number of characters of a clip's name before the bar."""


@contextmanager
def progress_bar(
    clip_name: str,
    words: Words | None = None,
    *,
    quiet: bool = False,
) -> Iterator[ProgressCallback]:
    """Give a callback that draws a progress bar on stderr, if that is a terminal.

    Parameters
    ----------
    clip_name
        Shown before the bar.
    words
        Texts; None = in the language of the environment.
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
    from rich.progress import BarColumn, MofNCompleteColumn, TextColumn
    from rich.progress import Progress as Bar
    from rich.table import Column

    texts = (words or load_words()).terminal
    with Bar(
        # Always one line: a narrow terminal cuts it off.
        TextColumn(escape(_short(clip_name)), table_column=Column(no_wrap=True)),
        TextColumn("{task.description}", table_column=Column(no_wrap=True)),
        BarColumn(bar_width=10),
        MofNCompleteColumn(table_column=Column(no_wrap=True)),
        _time_left_column(texts),
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


def _short(name: str) -> str:
    """Cut a name; the end of a phone's file name differs more than its start."""
    return name if len(name) <= LONGEST_NAME else "…" + name[1 - LONGEST_NAME :]


def _time_left_column(texts: Mapping[str, str]) -> ProgressColumn:
    """Return a column with the time left, as soon as it is known."""
    from rich.progress import ProgressColumn
    from rich.table import Column
    from rich.text import Text

    class TimeLeft(ProgressColumn):
        max_refresh = 0.5

        def render(self, task: Task) -> Text:
            left_s = task.time_remaining
            return Text("" if left_s is None else texts["time_left"].format(time=_clock(left_s)))

    return TimeLeft(table_column=Column(no_wrap=True))


def _clock(left_s: float) -> str:
    """Minutes and seconds, with hours if there are any: ``2:05`` or ``1:02:05``."""
    minutes, seconds = divmod(round(left_s), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{seconds:02d}" if hours else f"{minutes}:{seconds:02d}"


class BatchProgress:
    """Shows on stderr the progress of a run over several clips.

    In a terminal: a bar for the whole and one for each clip with the workers. Elsewhere: a line
    after each clip.

    Parameters
    ----------
    n_films
        Number of clips.
    words
        Texts.
    quiet
        Whether to show nothing.
    """

    def __init__(self, n_films: int, words: Words, *, quiet: bool = False) -> None:
        self._words = words
        self._quiet = quiet
        self._bar: Bar | None = None
        self._n_films = n_films
        self._n_done = 0
        self._n_earlier = 0
        self._start_s = time.monotonic()
        self._open: dict[Path, tuple[TaskID | None, float]] = {}
        self._whole: TaskID | None = None

    def __enter__(self) -> BatchProgress:
        if self._quiet or not sys.stderr.isatty():
            return self
        from rich.console import Console
        from rich.progress import BarColumn, TextColumn
        from rich.progress import Progress as Bar
        from rich.table import Column

        self._bar = Bar(
            TextColumn("{task.fields[label]}", table_column=Column(no_wrap=True), markup=False),
            TextColumn("{task.description}", table_column=Column(no_wrap=True)),
            BarColumn(bar_width=10),
            _time_left_column(self._words.terminal),
            console=Console(stderr=True),
            transient=True,
            speed_estimate_period=3600.0,
            redirect_stdout=sys.stdout.isatty(),
        )
        self._bar.start()
        label = self._words.text("batch_output.all")
        self._whole = self._bar.add_task(self._whole_text(None), total=self._n_films, label=label)
        return self

    def __exit__(self, *_: object) -> None:
        if self._bar is not None:
            self._bar.stop()

    def start(self, film: Path) -> None:
        """Show that a clip is with a worker."""
        task = None
        if self._bar is not None:
            text = self._words.text("batch_output.waiting")
            task = self._bar.add_task(text, total=None, label=_short(film.name))
        self._open[film] = (task, 0.0)

    def report(self, film: Path, progress: Progress) -> None:
        """Show the progress of a clip."""
        task, _ = self._open.get(film, (None, 0.0))
        if self._bar is None or task is None:
            return
        text = self._words.terminal.get(progress.stage, progress.stage)
        self._bar.update(task, description=text, completed=progress.done, total=progress.total)
        share = min(progress.done / progress.total, 1.0) if progress.total else 0.0
        self._open[film] = (task, share)
        self._show_whole()

    def finish(self, film: Path, show: Callable[[], None]) -> None:
        """Print the result of a clip, and show that it is done."""
        is_earlier = film not in self._open
        self._n_earlier += is_earlier
        task, _ = self._open.pop(film, (None, 0.0))
        self._n_done += 1
        if self._bar is not None and task is not None:
            self._bar.remove_task(task)
        show()
        if self._bar is not None:
            self._show_whole()
        elif not self._quiet and not is_earlier:
            click.echo(self._whole_text(self._left_s()), err=True)

    def _left_s(self) -> float | None:
        """Time left by the mean of what was computed so far; None at the ends."""
        n_left, n_computed = self._n_films - self._n_done, self._n_done - self._n_earlier
        if n_left == 0 or n_computed == 0:
            return None
        return (time.monotonic() - self._start_s) / n_computed * n_left

    def _show_whole(self) -> None:
        if self._bar is None or self._whole is None:
            return
        parts = sum(share for _, share in self._open.values())
        self._bar.update(
            self._whole,
            description=self._whole_text(None),
            completed=self._n_done - self._n_earlier + parts,
            total=self._n_films - self._n_earlier,
        )

    def _whole_text(self, left_s: float | None) -> str:
        values = {"done": self._n_done, "films": self._n_films}
        if left_s is None:
            return self._words.text("batch_output.whole", **values)
        return self._words.text("batch_output.whole_left", time=_clock(left_s), **values)


def batch_table(rows: Sequence[IndexRow], words: Words, out: Path) -> list[str]:
    """Sum up a run over several clips: a line for each, what to do first, and the index.

    Parameters
    ----------
    rows
        Of the clips, in display order.
    words
        Texts.
    out
        Folder of the index.
    """
    from pipeline.report.run_index import PAGE_NAME, first_of_all

    texts = words.section("batch_output")
    cells = [(texts["clip"], texts["reps"], texts["first"])]
    for row in rows:
        if row.error is not None:
            what = texts["failed"].format(why=row.error)
        elif row.first is None:
            what = texts["nothing"] if row.n_reps else row.found
        else:
            what = row.first.headline or row.first.text
        n_reps = "" if row.n_reps is None else str(row.n_reps)
        cells.append((_short(row.clip), n_reps, " ".join(what.split())))
    widths = [max(len(cell[column]) for cell in cells) for column in (0, 1)]
    room = WIDTH - sum(widths) - 4
    lines = [
        f"{clip:<{widths[0]}}  {n_reps:>{widths[1]}}  {shorten(what, room, placeholder='…')}"
        for clip, n_reps, what in cells
    ]
    chief = first_of_all(rows)
    if chief is None:
        lines.append(texts["first_of_none"])
    else:
        what = chief.first.headline or chief.first.text
        n, of = chief.n_clips, chief.n_analysed
        lines.append(words.text("batch_output.first_of_all", n=n, of=of, what=what))
    return [*(line.rstrip() for line in lines), texts["index"].format(path=out / PAGE_NAME)]


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
    computed = words.terminal["computed"].format(percent=round(100.0 * analysis.share_computed))
    lines.append(f"  {computed}")
    reports = [path for path in written if path.name == "report.html"]
    lines += ["  " + words.terminal["report"].format(path=path) for path in reports]
    films = [path for path in written if path.suffix == ".mp4"]
    lines += ["  " + words.overlay["film"].format(path=path) for path in films]
    return "\n".join(lines)
