"""Long work that the page was asked for, kept in the log so that it outlives reload and restart."""

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
    """One piece of long work.

    Attributes
    ----------
    id, kind, state
        Number; ``analyse`` or ``learn``; `JobState`.
    athlete, file_name, film_path
        Whose film, its name as it was sent, and where it is kept.
    asked, result
        What was asked for, and what came of it.
    stage, done, total
        How far it is.
    said
        What went wrong.
    by
        Who asked.
    """

    id: int
    kind: str
    state: JobState
    athlete: str | None
    file_name: str | None
    film_path: str | None
    asked: Mapping[str, Any]
    result: Mapping[str, Any]
    stage: str | None
    done: int | None
    total: int | None
    said: str | None
    by: str

    @property
    def share(self) -> float | None:
        """How much of it is done, 0 to 1; None where that is not known."""
        return min(1.0, (self.done or 0) / self.total) if self.total else None


def add_job(
    connection: Connection,
    kind: str,
    *,
    by: str,
    at: datetime,
    asked: Mapping[str, Any],
    athlete_id: int | None = None,
    file_name: str | None = None,
    film_path: str | None = None,
    held: bool = False,
) -> int:
    """Write down that something is to be done, and return its number; `held` waits for a word."""
    row = {
        "kind": kind,
        "state": "held" if held else "waiting",
        "athlete_id": athlete_id,
        "file_name": file_name,
        "film_path": film_path,
        "asked": json.dumps(asked),
        "by": by,
        "added_at": at,
    }
    return insert_row(connection, JOBS, row)


def last_jobs(connection: Connection, *, n: int = MOST_SHOWN) -> list[Job]:
    """Give the newest jobs first."""
    return _read(connection, [], n)


def job_of(connection: Connection, number: int) -> Job | None:
    """Give a job by its number; None where there is none."""
    found = _read(connection, [JOBS.c.id == number], 1)
    return found[0] if found else None


def claim_job(connection: Connection, *, at: datetime) -> Job | None:
    """Take the oldest job that waits, so that nobody else does it; None where none waits."""
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
    """Let jobs that were broken off wait again; returns how many."""
    where = JOBS.c.state == "running"
    return connection.execute(update(JOBS).where(where).values(state="waiting")).rowcount


def let_go(connection: Connection, number: int) -> None:
    """Let a job that was held wait for its turn."""
    where = (JOBS.c.id == number) & (JOBS.c.state == "held")
    connection.execute(update(JOBS).where(where).values(state="waiting"))


def cancel_job(connection: Connection, number: int, *, at: datetime) -> bool:
    """Say that a job is not wanted any more; whether there was anything to cancel."""
    where = (JOBS.c.id == number) & JOBS.c.state.in_(UNDONE_STATES)
    values = {"state": "cancelled", "ended_at": at}
    return bool(connection.execute(update(JOBS).where(where).values(**values)).rowcount)


def note_progress(connection: Connection, number: int, told: Mapping[str, Any]) -> bool:
    """Write down how far a job is; False where it is not to go on."""
    where = (JOBS.c.id == number) & (JOBS.c.state == "running")
    values = {name: told.get(name) for name in ("stage", "done", "total")}
    return bool(connection.execute(update(JOBS).where(where).values(**values)).rowcount)


def end_job(
    connection: Connection,
    number: int,
    state: JobState,
    *,
    at: datetime,
    said: str | None = None,
    result: Mapping[str, Any] | None = None,
) -> None:
    """Write down how a running job ended; one that was cancelled stays so."""
    where = (JOBS.c.id == number) & (JOBS.c.state == "running")
    values = {
        "state": state,
        "ended_at": at,
        "said": said,
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
        "said",
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
            asked=json.loads(row["asked"] or "{}"),
            result=json.loads(row["result"] or "{}"),
        )
        for row in connection.execute(query).mappings()
    ]
