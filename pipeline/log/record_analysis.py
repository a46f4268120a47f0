"""Writes an analysis into the training log, in one transaction and once per film."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta, timezone
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from sqlalchemy import Connection, delete, insert, or_, select, update

from pipeline import __version__
from pipeline.core.errors import LogError
from pipeline.core.results import Analysis
from pipeline.feedback.words import load_words
from pipeline.log.athletes import (
    add_athlete,
    change_athlete,
    known_athlete,
    note_stature,
    refuse_faces_of_a_minor,
    refuse_without_consent,
)
from pipeline.log.film_date import DatedBy, FilmDate, film_date, stream_digest
from pipeline.log.rep_rows import put_reps
from pipeline.log.schema import (
    ATHLETES,
    CLIPS,
    FILM_FOLDERS,
    REPS,
    SESSIONS,
    TARGET_VERSIONS,
    insert_row,
)
from pipeline.log.sessions import drop_if_empty, session_for_film
from pipeline.settings.checks import DEFAULT_LEVEL
from pipeline.settings.settings import AnalysisSettings, settings_text

if TYPE_CHECKING:
    from pipeline.log.store import TrainingLog


FolderKind = Literal["results", "cache"]

PLACE = ("file_digest", "results_path", "cache_path")
"""Columns with the film's digest and the folders of its analysis."""

_TRUST: Mapping[DatedBy, int] = {"file": 0, "film": 1, "told": 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class Logged:
    """Summary of what was written into the log.

    Attributes
    ----------
    athlete, day, dated_by
        Name of the athlete, day of the session, source of that day.
    n_reps
        Number of reps.
    again
        Whether the film was in the log before, so that its reps were replaced.
    clip_id
        Number of the film in the log.
    also_of
        Other athletes for whom the same film is in the log.
    """

    athlete: str
    day: date
    dated_by: DatedBy
    n_reps: int
    again: bool
    clip_id: int
    also_of: tuple[str, ...] = ()


def allow_analysis(
    store: TrainingLog,
    name: str,
    day: date,
    age_years: float | None = None,
    *,
    hide_faces: bool = True,
) -> None:
    """Raise `ConsentError` if an athlete must not be filmed or a minor's face must not be shown.

    See `refuse_without_consent` and `refuse_faces_of_a_minor`.
    """
    with store.reading() as connection:
        athlete = known_athlete(connection, name)
    refuse_without_consent(athlete, name, day, age_years)
    if not hide_faces:
        refuse_faces_of_a_minor(athlete, name, day)


def log_analysis(
    analysis: Analysis,
    settings: AnalysisSettings,
    store: TrainingLog,
    *,
    day: date | None = None,
    results_path: Path | None = None,
    cache_path: Path | None = None,
) -> Logged:
    """Write an analysis into the log; the reps of a film already logged are replaced.

    An athlete who is not in the log is added, with the personal data of the settings.

    Parameters
    ----------
    analysis, settings
        Result and settings; the athlete must be named.
    store
        The open log.
    day
        Local date of the film, if set by the user.
    results_path, cache_path
        Folders of its report and of its landmarks, needed to erase an athlete's data.

    Raises
    ------
    LogError
        The log cannot be written to, or no athlete is named; the log is unchanged.
    """
    if settings.athlete is None:
        raise LogError.of("no_athlete_named")
    path = analysis.clip.path
    dated = film_date(path, day)
    pictures = stream_digest(path)
    now = datetime.now(tz=timezone.utc)
    length = timedelta(seconds=float(analysis.clip.time_s[-1]) if analysis.clip.n_frames else 0.0)
    like = _like(settings.move)
    with store.writing() as connection:
        athlete_id = _athlete(connection, settings, dated.day, now)
        same = or_(CLIPS.c.stream_digest == pictures, CLIPS.c.file_digest == analysis.clip.digest)
        before = (
            connection.execute(select(CLIPS).where(CLIPS.c.athlete_id == athlete_id, same))
            .mappings()
            .first()
        )
        dated, session_id, session_day = _session(connection, athlete_id, dated, length, before)
        row = {
            "athlete_id": athlete_id,
            "session_id": session_id,
            "file_name": path.name,
            "file_digest": analysis.clip.digest,
            "stream_digest": pictures,
            "filmed_at": dated.at,
            "dated_by": dated.by,
            "duration_s": length.total_seconds(),
            "level": analysis.level,
            "stature_m": analysis.stature_m,
            "grade": analysis.scene.grade,
            "targets": _target_version(connection, analysis),
            "program": __version__,
            "analysed_at": now,
            "results_path": None if results_path is None else str(results_path.resolve()),
            "cache_path": None if cache_path is None else str(cache_path.resolve()),
            "film_path": str(path.resolve()),
            "settings": settings_text(settings),
        }
        clip_id = _put_clip(connection, row, before)
        put_reps(
            connection,
            analysis,
            {"clip_id": clip_id, "athlete_id": athlete_id, "session_id": session_id,
             "day": session_day},
            like,
            load_words().weight_of,
        )  # fmt: skip
        if before is not None and before["session_id"] != session_id:
            drop_if_empty(connection, before["session_id"])
        others = connection.execute(
            select(ATHLETES.c.name)
            .join(CLIPS, CLIPS.c.athlete_id == ATHLETES.c.id)
            .where(same, ATHLETES.c.id != athlete_id)
            .order_by(ATHLETES.c.name)
        ).scalars()
        return Logged(
            athlete=settings.athlete,
            day=session_day,
            dated_by=dated.by,
            n_reps=len(analysis.reps),
            again=before is not None,
            clip_id=clip_id,
            also_of=tuple(others),
        )


def _session(
    connection: Connection,
    athlete_id: int,
    dated: FilmDate,
    length: timedelta,
    before: Mapping[Any, Any] | None,
) -> tuple[FilmDate, int, date]:
    """Return the date and session of a film; a less reliable date than before is ignored.

    A date set by the user stays, and the modification time of a copied file does not count.
    """
    if before is not None and _TRUST[dated.by] <= _TRUST[before["dated_by"]] and dated.by != "told":
        query = select(SESSIONS.c.day).where(SESSIONS.c.id == before["session_id"])
        day = connection.execute(query).scalar_one()
        earlier = FilmDate(day, before["filmed_at"], before["dated_by"])
        return earlier, int(before["session_id"]), day
    stop = None if dated.at is None else dated.at + length
    session_id, day = session_for_film(connection, athlete_id, dated.day, dated.at, stop)
    return dated, session_id, day


def _like(move: str | None) -> str | None:
    from pipeline.teaching.drill_store import requested_drill

    drill = requested_drill(move)
    return None if drill is None else drill.like


def _athlete(connection: Connection, settings: AnalysisSettings, day: date, now: datetime) -> int:
    name = settings.athlete or ""
    known = known_athlete(connection, name)
    level = None if settings.level == DEFAULT_LEVEL else settings.level
    facts = {"stick_hand": settings.stick_hand, "level": level}
    if known is None:
        athlete_id = add_athlete(connection, name, now, facts)
    else:
        athlete_id = known.id
        missing = {
            key: value
            for key, value in facts.items()
            if value is not None and getattr(known, key) is None
        }
        change_athlete(connection, athlete_id, missing)
    note_stature(connection, athlete_id, settings.stature_m, day)
    return athlete_id


def _target_version(connection: Connection, analysis: Analysis) -> str | None:
    ranges = analysis.ranges
    if ranges is None:
        return None
    query = select(TARGET_VERSIONS.c.digest).where(TARGET_VERSIONS.c.digest == ranges.digest)
    if connection.execute(query).first() is None:
        row = {"digest": ranges.digest, "source": ranges.source, "changed": ranges.changed}
        connection.execute(insert(TARGET_VERSIONS).values(**row))
    return ranges.digest


def _put_clip(
    connection: Connection, row: Mapping[str, Any], before: Mapping[Any, Any] | None
) -> int:
    """Insert or update the row of a film, and delete its earlier reps; returns its number."""
    if before is None:
        return insert_row(connection, CLIPS, row)
    clip_id = int(before["id"])
    row = {**row, "earlier": earlier_places(before, row)}
    connection.execute(delete(REPS).where(REPS.c.clip_id == clip_id))
    connection.execute(update(CLIPS).where(CLIPS.c.id == clip_id).values(**row))
    return clip_id


def earlier_places(before: Mapping[Any, Any], row: Mapping[str, Any]) -> str | None:
    """Return digests and folders of a film's earlier analyses as JSON; None if there are none."""
    known = json.loads(before["earlier"] or "[]")
    place = [before[name] for name in PLACE]
    if place != [row[name] for name in PLACE] and place not in known:
        known.append(place)
    return json.dumps(known) if known else None


def note_folders(
    connection: Connection,
    folders: Mapping[FolderKind, Path],
    *,
    file_digest: str | None,
    athlete: str | None,
) -> None:
    """Note where the program writes files about a film; a folder that is known is not noted twice.

    Parameters
    ----------
    connection
        To the log.
    folders
        By their kind.
    file_digest
        SHA-256 of the film; None where the files are about no film.
    athlete
        Name as it was given; one who is not in the log is not added.
    """
    known = None if athlete is None else known_athlete(connection, athlete)
    for kind, folder in folders.items():
        row = {
            "athlete_id": None if known is None else known.id,
            "file_digest": file_digest,
            "kind": kind,
            "path": str(folder.resolve()),
        }
        same = [FILM_FOLDERS.c[name].is_not_distinct_from(value) for name, value in row.items()]
        if connection.execute(select(FILM_FOLDERS.c.id).where(*same)).first() is None:
            insert_row(connection, FILM_FOLDERS, row)
