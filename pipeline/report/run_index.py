"""The index of a run over several clips: a page, and a summary for other programs."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, fields
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from pipeline import __version__
from pipeline.core.files import writing_results
from pipeline.core.results import Analysis
from pipeline.feedback.words import Words, words_of
from pipeline.report.manifest import Origin, write_recorded
from pipeline.report.page import TEMPLATES
from pipeline.report.summary import advice_headline
from pipeline.report.templates import page_templates

if TYPE_CHECKING:
    from jinja2 import Template

PAGE_NAME, SUMMARY_NAME = "index.html", "summary.json"
SUMMARY_SCHEMA = "crossemetry.summary/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstThing:
    """What to do first after a clip.

    Attributes
    ----------
    text
        Sentence as in the report; the only one that is set for a clip with a single rep.
    headline
        The same in a few words.
    move, key, side
        Move, measure and side of its range; empty or None where the sentence is about no measure.
    """

    text: str
    headline: str = ""
    move: str = ""
    key: str = ""
    side: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class IndexRow:
    """One clip of a run.

    Attributes
    ----------
    clip
        File name.
    film
        SHA-256 of the file; empty if it could not be read.
    folder
        Name of the folder with the results; empty where there are none.
    athlete
        Name as given; None if none was.
    n_reps
        Number of reps; None for a clip that failed.
    found
        Number and moves of the reps as text.
    first
        What to do first; None where nothing was found to work on.
    notes
        What limits the film.
    error
        Why the clip failed; None where it did not.
    earlier
        Whether an earlier run computed the results.
    """

    clip: str
    film: str = ""
    folder: str = ""
    athlete: str | None = None
    n_reps: int | None = None
    found: str = ""
    first: FirstThing | None = None
    notes: tuple[str, ...] = ()
    error: str | None = None
    earlier: bool = field(default=False)

    @property
    def address(self) -> str:
        """Address of the report from the index; empty without results."""
        return f"{quote(self.folder)}/report.html" if self.folder else ""

    def document(self) -> dict[str, Any]:
        """Return the row as plain values."""
        return {**asdict(self), "notes": list(self.notes)}


def row_of_document(document: Mapping[str, Any]) -> IndexRow:
    """Read a row that `IndexRow.document` wrote.

    Raises
    ------
    KeyError, TypeError
        It is something else.
    """
    values = {one.name: document[one.name] for one in fields(IndexRow)}
    first = values["first"]
    values["first"] = None if first is None else FirstThing(**first)
    values["notes"] = tuple(values["notes"])
    return IndexRow(**values)


def index_row(analysis: Analysis, folder: Path) -> IndexRow:
    """Return the row of an analysed clip in the language of its report."""
    words = words_of(analysis)
    return IndexRow(
        clip=analysis.clip.path.name,
        film=analysis.clip.digest,
        folder=folder.name,
        athlete=analysis.athlete,
        n_reps=len(analysis.reps),
        found=words.found_text(analysis.move, [result.rep.move for result in analysis.reps]),
        first=_first_of(analysis, words),
        notes=tuple(words.translate(note) for note in analysis.notes),
    )


def _first_of(analysis: Analysis, words: Words) -> FirstThing | None:
    if len(analysis.reps) == 1:  # no session: the last sentence on the rep is what to try next
        sentences = analysis.reps[0].feedback
        return FirstThing(text=sentences[-1]) if sentences else None
    point = None if analysis.session is None else analysis.session.work_on
    if point is None:
        return None
    return FirstThing(
        text=point.text,
        headline=advice_headline(words, point),
        move=point.move,
        key=point.key,
        side=point.side,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstOfAll:
    """What most clips of a run advise to do first.

    Attributes
    ----------
    first
        That of the first of these clips.
    n_clips, n_analysed
        Number of clips that advise it, and of all clips that were analysed.
    """

    first: FirstThing
    n_clips: int
    n_analysed: int


def first_of_all(rows: Sequence[IndexRow]) -> FirstOfAll | None:
    """Choose what to do first over all clips: what most of them advise, the earliest of equals.

    Returns
    -------
    FirstOfAll or None
        None where no clip with several reps has anything to work on.
    """
    points = [row.first for row in rows if row.first is not None and row.first.key]
    counts = Counter((point.move, point.key, point.side) for point in points)
    if not counts:
        return None
    (chief, n_clips), *_ = counts.most_common(1)
    first = next(point for point in points if (point.move, point.key, point.side) == chief)
    n_analysed = sum(row.error is None for row in rows)
    return FirstOfAll(first=first, n_clips=n_clips, n_analysed=n_analysed)


def summary_document(rows: Sequence[IndexRow]) -> dict[str, Any]:
    """Return the summary of a run as plain values by ``crossemetry.summary/1``."""
    chief = first_of_all(rows)
    return {
        "schema": SUMMARY_SCHEMA,
        "program_version": __version__,
        "first": None if chief is None else asdict(chief),
        "clips": [{**row.document(), "report": row.address or None} for row in rows],
    }


def index_page(rows: Sequence[IndexRow], words: Words) -> str:
    """Render the index as HTML without scripts.

    Parameters
    ----------
    rows
        Clips in display order.
    words
        Texts of the page in the reader's language; those of a row are in that of its clip.
    """
    chief = first_of_all(rows)
    n_failed = sum(row.error is not None for row in rows)
    return _template().render(
        texts=words.section("run_index"),
        page=words.report,
        language=words.language,
        rows=rows,
        counted=lambda n: words.texts.counted(n, "limit"),
        summary=words.text(
            "run_index.summary_failed" if n_failed else "run_index.summary",
            clips=len(rows), reps=sum(row.n_reps or 0 for row in rows), failed=n_failed,
        ),
        chief=chief,
        how_many="" if chief is None else words.text(
            "run_index.in_clips", n=chief.n_clips, of=chief.n_analysed
        ),
        version=__version__,
    )  # fmt: skip


@lru_cache(maxsize=1)
def _template() -> Template:
    return page_templates(TEMPLATES).get_template("index.html")


def write_index(rows: Sequence[IndexRow], out: Path, words: Words) -> Path:
    """Write the page and the summary of a run; returns the page.

    Raises
    ------
    OutputError
        The folder cannot be written to.
    """
    origin = Origin(
        made_by="index",
        films=tuple(dict.fromkeys(row.film for row in rows if row.film)),
        athletes=tuple(dict.fromkeys(row.athlete for row in rows if row.athlete)),
    )
    summary = json.dumps(summary_document(rows), indent=1, ensure_ascii=False) + "\n"
    contents = {PAGE_NAME: index_page(rows, words), SUMMARY_NAME: summary}
    with writing_results(out):
        write_recorded(out, {name: [text.encode()] for name, text in contents.items()}, origin)
    return out / PAGE_NAME
