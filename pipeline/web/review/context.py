"""What every page of the review needs: the log, the folders, who reviews, and in which words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

from pipeline.feedback.words import Words
from pipeline.log.schema import ATHLETES, CLIPS, REPS
from pipeline.report.templates import page_templates

if TYPE_CHECKING:
    from jinja2 import Environment
    from sqlalchemy import Connection
    from starlette.requests import Request
    from starlette.responses import Response

    from pipeline.log.store import TrainingLog

HERE = Path(__file__).parent
TEMPLATES = (HERE / "templates", HERE.parent.parent / "report" / "templates")
"""Where templates are looked for; those of the report hold the shapes of the verdicts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewContext:
    """What every page of the review needs.

    Attributes
    ----------
    log
        The open training log. Its engine may be used from several threads.
    data
        The data folder, absolute: film that was added lies in ``data / "review"``.
    cache
        Folder of landmarks and key frames, absolute; the same for every analysis of the page.
    by
        Who is reviewing, as it is noted with each mark.
    words
        All texts, in the language and the units of the person who reads them.
    templates
        From `environment`.
    """

    log: TrainingLog
    data: Path
    cache: Path
    by: str
    words: Words
    templates: Environment

    @property
    def film(self) -> Path:
        """Folder of the film that was added on the page."""
        return self.data / "review" / "film"

    @property
    def results(self) -> Path:
        """Folder of the reports on that film."""
        return self.data / "review" / "results"


def environment(words: Words) -> Environment:
    """Make the templates: escaped, strict, with the texts at hand.

    In a template ``text("review.key", name=value)`` says a text of the catalogue, and
    ``say.key`` is one of its section ``[review]`` without braces.
    """
    made = page_templates(*TEMPLATES)
    made.globals.update(
        text=words.text,
        say=SimpleNamespace(**words.section("review")),
        language=words.language,
        move_name=words.move_name,
        such_stature=words.texts.figures.number(1.8, 2),
    )
    return made


def shown(
    context: ReviewContext,
    request: Request,
    template: str,
    *,
    status: int = 200,
    **values: Any,  # noqa: ANN401 - whatever a template asks for
) -> Response:
    """Answer with a page made of a template that extends ``base.html``.

    Parameters
    ----------
    context
        For the words and who is reviewing.
    request
        For which part of the page is open.
    template, values
        Its name, and what it asks for.
    status
        Of the answer.
    """
    from starlette.responses import HTMLResponse

    html = context.templates.get_template(template).render(
        by=context.by, path=request.url.path, **values
    )
    return HTMLResponse(html, status)


def rep_address(clip_id: int, number: int) -> str:
    """Path of the page on one rep: by clip and number, for a new analysis gives it another id."""
    return f"/clip/{clip_id}/rep/{number}"


def rep_row(connection: Connection, clip_id: int, number: int) -> Mapping[Any, Any] | None:
    """Read a rep with the athlete's name (``athlete``) and its clip (``clip_*``); None = no such.

    The columns of the clip are all there, each with ``clip_`` in front of its name.
    """
    from sqlalchemy import select

    clip = [column.label(f"clip_{column.name}") for column in CLIPS.c if column.name != "id"]
    query = (
        select(REPS, ATHLETES.c.name.label("athlete"), *clip)
        .join(CLIPS, CLIPS.c.id == REPS.c.clip_id)
        .join(ATHLETES, ATHLETES.c.id == REPS.c.athlete_id)
        .where(REPS.c.clip_id == clip_id, REPS.c.number == number)
    )
    return connection.execute(query).mappings().first()


def film_path(row: Mapping[Any, Any]) -> Path | None:
    """File of the film of a rep (`rep_row`) or of a clip; None where it is not there any more.

    Only a film that the log knows is ever given out, and only while it is a plain file.
    """
    named = row.get("clip_film_path", row.get("film_path"))
    path = None if named is None else Path(named)
    return path if path is not None and path.is_file() else None
