"""Background jobs of the page, stored in the log so that they survive reload and restart."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from sqlalchemy import Connection, select, update

from pipeline.log.schema import ATHLETES, JOBS, insert_row

JobState = Literal["held", "waiting", "running", "done", "failed", "cancelled"]
UNDONE_STATES = ("held", "waiting", "running")
MOST_SHOWN = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A background job.

    Attributes
    ----------
    id, kind, state
        Number; ``analyse`` or ``learn``; `JobState`.
    athlete, file_name, film_path
        Name of the athlete, name of the film as sent, and path of its file.
    request, result
        Parameters of the job, and its result.
    stage, done, total
        Progress.
    error_text
        Why it failed.
    by
        Who requested it.
    """

    id: int
    kind: str
    state: JobState
    athlete: str | None
    file_name: str | None
    film_path: str | None
    request: Mapping[str, Any]
    result: Mapping[str, Any]
    stage: str | None
    done: int | None
    total: int | None
    error_text: str | None
    by: str

    @property
    def share(self) -> float | None:
        """Share that is done, 0 to 1; None if not known."""
        return min(1.0, (self.done or 0) / self.total) if self.total else None


def add_job(
    connection: Connection,
    kind: str,
    *,
    by: str,
    at: datetime,
    request: Mapping[str, Any],
    athlete_id: int | None = None,
    file_name: str | None = None,
    film_path: str | None = None,
    on_hold: bool = False,
) -> int:
    """Add a job and return its number; a job `on_hold` waits until it is released."""
    row = {
        "kind": kind,
        "state": "held" if on_hold else "waiting",
        "athlete_id": athlete_id,
        "file_name": file_name,
        "film_path": film_path,
        "asked": json.dumps(request),
        "by": by,
        "added_at": at,
    }
    return insert_row(connection, JOBS, row)


def last_jobs(connection: Connection, *, n: int = MOST_SHOWN) -> list[Job]:
    """Read the last jobs, the newest first."""
    return _read(connection, [], n)


def job_of(connection: Connection, number: int) -> Job | None:
    """Read a job by its number; None if it does not exist."""
    found = _read(connection, [JOBS.c.id == number], 1)
    return found[0] if found else None


def claim_job(connection: Connection, *, at: datetime) -> Job | None:
    """Mark the oldest waiting job as running and return it; None if none waits."""
    query = select(JOBS.c.id).where(JOBS.c.state == "waiting").order_by(JOBS.c.id).limit(1)
    number = connection.execute(query).scalar()
    if number is None:
        return None
    where = (JOBS.c.id == number) & (JOBS.c.state == "waiting")
    values = {"state": "running", "started_at": at, "stage": None, "done": None, "total": None}
    if not connection.execute(update(JOBS).where(where).values(**values)).rowcount:
        return None
    return job_of(connection, number)


def queue_again(connection: Connection) -> int:
    """Let interrupted jobs wait again; returns how many."""
    where = JOBS.c.state == "running"
    return connection.execute(update(JOBS).where(where).values(state="waiting")).rowcount


def release_job(connection: Connection, number: int) -> None:
    """Let a job on hold wait for its turn."""
    where = (JOBS.c.id == number) & (JOBS.c.state == "held")
    connection.execute(update(JOBS).where(where).values(state="waiting"))


def cancel_job(connection: Connection, number: int, *, at: datetime) -> bool:
    """Cancel a job; returns whether it could be cancelled."""
    where = (JOBS.c.id == number) & JOBS.c.state.in_(UNDONE_STATES)
    values = {"state": "cancelled", "ended_at": at}
    return bool(connection.execute(update(JOBS).where(where).values(**values)).rowcount)


def note_progress(connection: Connection, number: int, progress: Mapping[str, Any]) -> bool:
    """Store the progress of a job; False if it was cancelled."""
    where = (JOBS.c.id == number) & (JOBS.c.state == "running")
    values = {name: progress.get(name) for name in ("stage", "done", "total")}
    return bool(connection.execute(update(JOBS).where(where).values(**values)).rowcount)


def end_job(
    connection: Connection,
    number: int,
    state: JobState,
    *,
    at: datetime,
    error_text: str | None = None,
    result: Mapping[str, Any] | None = None,
) -> None:
    """Store how a running job ended; a cancelled job stays cancelled."""
    where = (JOBS.c.id == number) & (JOBS.c.state == "running")
    values = {
        "state": state,
        "ended_at": at,
        "said": error_text,
        "result": None if result is None else json.dumps(result),
    }
    connection.execute(update(JOBS).where(where).values(**values))


def _read(connection: Connection, where: Sequence[Any], n: int) -> list[Job]:
    names = (
        "id",
        "kind",
        "state",
        "file_name",
        "film_path",
        "stage",
        "done",
        "total",
        "by",
    )
    query = (
        select(JOBS, ATHLETES.c.name.label("athlete"))
        .outerjoin(ATHLETES, ATHLETES.c.id == JOBS.c.athlete_id)
        .where(*where)
        .order_by(JOBS.c.id.desc())
        .limit(n)
    )
    return [
        Job(
            **{name: row[name] for name in names},
            athlete=row["athlete"],
            error_text=row["said"],
            request=json.loads(row["asked"] or "{}"),
            result=json.loads(row["result"] or "{}"),
        )
        for row in connection.execute(query).mappings()
    ]
