"""Changes that a person may make to a rep: an event, a joint, a foot's landing."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Literal, cast, get_args

import numpy as np

from pipeline.core.errors import ReviewError
from pipeline.core.spline import runs
from pipeline.core.types import JOINTS, BoolArray, FloatArray

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


JOINED_WITHIN_S = 0.3
SHORTEST_MARKED_S = 0.1
"""A contact within the first of these after a landing that was marked is the same contact; where
there is none, the foot is taken to stand for the second."""


def with_contacts(
    contact: BoolArray, landed: BoolArray, changes: Sequence[RepEdit], time_s: FloatArray
) -> tuple[BoolArray, BoolArray]:
    """Let feet land and lift where a person says they do.

    Parameters
    ----------
    contact, landed
        (n_frames, 2) by the picture.
    changes
        Those that stand; others than of feet are passed over.
    time_s
        (n_frames,).

    Returns
    -------
    tuple
        Copies of the two arrays.
    """
    contact, landed = contact.copy(), landed.copy()
    for change in changes:
        if change.kind not in ("lands", "lifts") or change.frame >= time_s.size:
            continue
        foot, frame = FEET.index(change.name), change.frame
        spans = runs(contact[:, foot])
        if change.kind == "lands":
            soon_s = time_s[frame] + JOINED_WITHIN_S
            same = [s for s in spans if s[1] > frame and time_s[s[0]] <= soon_s]
            stop = same[0][1] if same else int(
                np.searchsorted(time_s, time_s[frame] + SHORTEST_MARKED_S, side="right")
            )  # fmt: skip
            first = min(frame, same[0][0]) if same else frame
            contact[first:frame, foot] = False
            contact[frame:stop, foot] = True
            landed[first:stop, foot] = False
            landed[frame, foot] = True
        else:
            now = [s for s in spans if s[0] < frame]
            start = now[-1][0] if now else frame
            if now and now[-1][1] < frame and time_s[frame] - time_s[now[-1][1]] > JOINED_WITHIN_S:
                start = frame
            stop = next((s[1] for s in spans if s[0] <= frame < s[1]), frame)
            contact[start:frame, foot] = True
            contact[frame:stop, foot] = False
            landed[frame:stop, foot] = False
    return contact, landed
