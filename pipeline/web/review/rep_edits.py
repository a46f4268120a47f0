"""What a person may change about a rep while looking at it: an event, a joint, a foot's landing."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Literal, cast, get_args

from pipeline.core.errors import ReviewError
from pipeline.core.types import JOINTS

ChangeKind = Literal["event", "joint", "lands", "lifts"]
FEET = ("left", "right")
MOST_PX = 20_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RepEdit:
    """One thing that a person put right.

    Attributes
    ----------
    kind
        An event was moved; a joint was put elsewhere in one frame; a foot lands, or lifts, here.
    name
        The event, the joint (`JOINTS`) or the foot (``left``, ``right``).
    frame
        Index of the frame of the clip.
    person
        Whose joint: 0 for the athlete, 1 for the defender. Feet are the athlete's.
    at_px
        Where the joint is in that frame as it was filmed; None but for a joint.
    """

    kind: ChangeKind
    name: str
    frame: int
    person: int = 0
    at_px: tuple[float, float] | None = None

    @property
    def place(self) -> tuple[str, str, int, int]:
        """What it is about: of two changes of the same, the later one holds."""
        if self.kind == "event":
            return (self.kind, self.name, -1, 0)
        kind = self.kind if self.kind == "joint" else "foot"
        return (kind, self.name, self.frame, self.person)

    def text(self) -> str:
        """Write it as it is kept."""
        return json.dumps(asdict(self), sort_keys=True)


def change_of(table: object) -> RepEdit:
    """Read a change that a page sent, or that was kept.

    Raises
    ------
    ReviewError
        It cannot be meant.
    """
    if not isinstance(table, Mapping):
        raise _wrong()
    kind, name, frame = table.get("kind"), table.get("name"), table.get("frame")
    person, at_px = table.get("person", 0), table.get("at_px")
    if kind not in get_args(ChangeKind):
        raise _wrong()
    names: Sequence[str] = JOINTS if kind == "joint" else FEET
    if not isinstance(name, str) or (kind != "event" and name not in names) or len(name) > 40:
        raise _wrong()
    if type(frame) is not int or not 0 <= frame < 10**7 or person not in (0, 1):
        raise _wrong()
    place = _point(at_px) if kind == "joint" else None
    return RepEdit(
        kind=cast("ChangeKind", kind), name=name, frame=frame, person=int(person), at_px=place
    )


def standing(changes: Iterable[RepEdit]) -> tuple[RepEdit, ...]:
    """Keep of changes in the order in which they were made the last one of each place."""
    last = {change.place: change for change in changes}
    return tuple(last.values())


def _point(value: object) -> tuple[float, float]:
    if isinstance(value, (list, tuple)) and len(value) == 2:
        numbers = [float(v) for v in value if isinstance(v, (int, float)) and abs(v) < MOST_PX]
        if len(numbers) == 2 and all(math.isfinite(number) for number in numbers):
            return numbers[0], numbers[1]
    raise _wrong()


def _wrong() -> ReviewError:
    return ReviewError.of("no_such_change")
