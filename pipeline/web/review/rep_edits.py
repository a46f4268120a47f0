"""Edits that a person may make to a rep: of an event, a joint or a foot contact."""

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
MAX_PX = 20_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RepEdit:
    """One edit of a rep.

    Attributes
    ----------
    kind
        Moves an event, moves a joint in one frame, or sets where a foot lands or lifts.
    name
        The event, the joint (`JOINTS`) or the foot (``left``, ``right``).
    frame
        Index of the frame of the clip.
    person
        Whose joint: 0 for the athlete, 1 for the defender. Feet are the athlete's.
    at_px
        Position of the joint in the film's frame; None except for a joint.
    """

    kind: ChangeKind
    name: str
    frame: int
    person: int = 0
    at_px: tuple[float, float] | None = None

    @property
    def place(self) -> tuple[str, str, int, int]:
        """What it edits; of two edits with the same key, the later one is in force."""
        if self.kind == "event":
            return (self.kind, self.name, -1, 0)
        kind = self.kind if self.kind == "joint" else "foot"
        return (kind, self.name, self.frame, self.person)

    def text(self) -> str:
        """Text for storing it."""
        return json.dumps(asdict(self), sort_keys=True)


def parse_edit(table: object) -> RepEdit:
    """Read an edit that a page sent or that was stored.

    Raises
    ------
    ReviewError
        It is not valid.
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


def edits_in_force(changes: Iterable[RepEdit]) -> tuple[RepEdit, ...]:
    """Keep the last edit of each place; `changes` are in the order of making."""
    last = {change.place: change for change in changes}
    return tuple(last.values())


def _point(value: object) -> tuple[float, float]:
    if isinstance(value, (list, tuple)) and len(value) == 2:
        numbers = [float(v) for v in value if isinstance(v, (int, float)) and abs(v) < MAX_PX]
        if len(numbers) == 2 and all(math.isfinite(number) for number in numbers):
            return numbers[0], numbers[1]
    raise _wrong()


def _wrong() -> ReviewError:
    return ReviewError.of("no_such_change")


JOINED_WITHIN_S = 0.3
SHORTEST_MARKED_S = 0.1
"""A contact that begins within `JOINED_WITHIN_S` after a marked landing belongs to it.

Without one, the foot is assumed to stand for `SHORTEST_MARKED_S`.
"""


def with_contacts(
    contact: BoolArray, landed: BoolArray, changes: Sequence[RepEdit], time_s: FloatArray
) -> tuple[BoolArray, BoolArray]:
    """Apply the edits of foot contacts.

    Parameters
    ----------
    contact, landed
        (n_frames, 2) as detected.
    changes
        Edits in force; only those of feet are used.
    time_s
        (n_frames,) times of the clip.

    Returns
    -------
    tuple
        Edited copies of the two arrays.
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
