"""Compares the verdicts of earlier reps under old and new target ranges."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from sqlalchemy import Connection, select

from pipeline.core.results import Measurement, VerdictWord
from pipeline.feedback.words import COVERAGE_FACTOR
from pipeline.log.schema import ATHLETES, CLIPS, MEASURES, REPS
from pipeline.settings.checks import DEFAULT_LEVEL
from pipeline.targets.arm_lengths import defenders_arm
from pipeline.targets.lookup import Targets
from pipeline.targets.verdicts import judge

LOOKED_BACK = 100
ARM = "defender_arm_length_m"
NO_RANGE = "no range"


@dataclass(frozen=True, slots=True, kw_only=True)
class PastRep:
    """A rep with one measured number, and what selects its target range.

    Attributes
    ----------
    move, level, hand, athlete, stature_m
        Of the rep and its athlete; the stature is NaN if not known.
    measurement
        Value with u, from the log, without draws.
    defender_arm
        Length of the defender's arm, if measured.
    """

    move: str
    level: str
    hand: str | None
    athlete: str
    stature_m: float
    measurement: Measurement
    defender_arm: Measurement | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """Effect of new ranges on earlier reps.

    Attributes
    ----------
    n
        Number of compared reps.
    moved
        Number of reps by old and new verdict, for reps whose verdict differs.
    now, then
        Number of reps by verdict, with the ranges in force and with the new ones.
    """

    n: int
    moved: Mapping[tuple[str, str], int] = field(default_factory=dict)
    now: Mapping[str, int] = field(default_factory=dict)
    then: Mapping[str, int] = field(default_factory=dict)

    @property
    def n_changed(self) -> int:
        """Number of reps whose verdict differs."""
        return sum(self.moved.values())


def preview_change(reps: Iterable[PastRep], before: Targets, after: Targets) -> Preview:
    """Judge reps by two sets of ranges and count the differences.

    Both verdicts use value and u, even if the analysis used draws, so only the range differs.

    Parameters
    ----------
    reps
        Reps with a value.
    before, after
        The ranges in force, and the new ones.
    """
    moved: dict[tuple[str, str], int] = {}
    now: dict[str, int] = {}
    then: dict[str, int] = {}
    n = 0
    for rep in reps:
        old, new = verdict_word(rep, before), verdict_word(rep, after)
        n += 1
        now[old] = now.get(old, 0) + 1
        then[new] = then.get(new, 0) + 1
        if old != new:
            moved[old, new] = moved.get((old, new), 0) + 1
    return Preview(n=n, moved=moved, now=now, then=then)


def verdict_word(rep: PastRep, targets: Targets) -> VerdictWord | str:
    """Verdict on a rep's number; `NO_RANGE` if no range applies."""
    arm = None if rep.defender_arm is None else defenders_arm({ARM: rep.defender_arm})
    ranges = targets.for_athlete(
        rep.move, rep.level, rep.stature_m, hand=rep.hand, athlete=rep.athlete, defender_arm=arm
    )
    target = ranges.get(rep.measurement.key)
    if target is None or (target.low is None and target.high is None):
        return NO_RANGE
    return judge(
        rep.measurement,
        target,
        inside_level=targets.inside_level,
        outside_level=targets.outside_level,
    ).word


def past_reps(
    connection: Connection, move: str, measure: str, *, n: int = LOOKED_BACK
) -> Sequence[PastRep]:
    """Read the last reps of a move with a value of a measure, of all athletes."""
    query = (
        select(
            REPS.c.id, REPS.c.hand, ATHLETES.c.name, CLIPS.c.level, CLIPS.c.stature_m,
            MEASURES.c.value, MEASURES.c.u, MEASURES.c.unit,
        )
        .join(MEASURES, (MEASURES.c.rep_id == REPS.c.id) & (MEASURES.c.key == measure))
        .join(CLIPS, CLIPS.c.id == REPS.c.clip_id)
        .join(ATHLETES, ATHLETES.c.id == REPS.c.athlete_id)
        .where(REPS.c.move == move, MEASURES.c.value.is_not(None))
        .order_by(REPS.c.day.desc(), REPS.c.id.desc())
        .limit(n)
    )  # fmt: skip
    rows = connection.execute(query).all()
    arms = select(MEASURES.c.rep_id, MEASURES.c.value, MEASURES.c.u, MEASURES.c.unit).where(
        MEASURES.c.key == ARM,
        MEASURES.c.value.is_not(None),
        MEASURES.c.rep_id.in_([row.id for row in rows]),
    )
    of_rep = {
        row.rep_id: _measurement(ARM, row.unit, row.value, row.u)
        for row in connection.execute(arms)
    }
    return [
        PastRep(
            move=move,
            level=row.level or DEFAULT_LEVEL,
            hand=row.hand,
            athlete=row.name,
            stature_m=float("nan") if row.stature_m is None else float(row.stature_m),
            measurement=_measurement(measure, row.unit, row.value, row.u),
            defender_arm=of_rep.get(row.id),
        )
        for row in rows
    ]


def _measurement(key: str, unit: str, value: float, u: float | None) -> Measurement:
    interval = None if u is None else (value - COVERAGE_FACTOR * u, value + COVERAGE_FACTOR * u)
    return Measurement(key=key, unit=unit, value=value, u=u, interval95=interval)
