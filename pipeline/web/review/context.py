"""What every page of the review needs: log, folders, reviewer and texts."""

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
"""Folders of templates; those of the report hold the shapes of the verdicts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewContext:
    """What every page of the review needs.

    Attributes
    ----------
    log
        The open training log. Its engine may be used from several threads.
    data
        Data folder, absolute; added film is stored in ``data / "review"``.
    cache
        Folder of cached landmarks and key frames, absolute.
    by
        Name of the reviewer, stored with each mark.
    words
        Texts in the language and units of the reader.
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
        """Folder of film added on the page."""
        return self.data / "review" / "film"

    @property
    def results(self) -> Path:
        """Folder of the reports on that film."""
        return self.data / "review" / "results"


def environment(words: Words) -> Environment:
    """Make the template environment: autoescaped and strict, with the texts as globals.

    In a template ``text("review.key", name=value)`` is a text of the catalogue, and ``texts.key``
    is one of its section ``[review]`` without placeholders.
    """
    made = page_templates(*TEMPLATES)
    made.globals.update(
        text=words.text,
        texts=SimpleNamespace(**words.section("review")),
        language=words.language,
        move_name=words.move_name,
        such_stature=words.texts.figures.number(1.8, 2),
    )
    return made


def render_page(
    context: ReviewContext,
    request: Request,
    template: str,
    *,
    status: int = 200,
    **values: Any,  # noqa: ANN401 - variables of the template
) -> Response:
    """Answer with a page made of a template that extends ``base.html``.

    Parameters
    ----------
    context
        Of the review.
    request
        The request; its path marks the open part of the page.
    template, values
        Name and variables of the template.
    status
        Of the answer.
    """
    from starlette.responses import HTMLResponse

    html = context.templates.get_template(template).render(
        by=context.by, path=request.url.path, **values
    )
    return HTMLResponse(html, status)


def rep_address(clip_id: int, number: int) -> str:
    """Path of the page of a rep, by clip and number, because a new analysis changes the id."""
    return f"/clip/{clip_id}/rep/{number}"


def rep_row(connection: Connection, clip_id: int, number: int) -> Mapping[Any, Any] | None:
    """Read a rep with the athlete's name (``athlete``) and its clip; None if missing.

    Each column of the clip has ``clip_`` in front of its name.
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
    """File of the film of a rep (`rep_row`) or of a clip; None if it is missing.

    Only a plain file that the log names is returned.
    """
    named = row.get("clip_film_path", row.get("film_path"))
    path = None if named is None else Path(named)
    return path if path is not None and path.is_file() else None
