"""What a coach marks in a clip to teach a drill, and why it may not be used."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pipeline.core.errors import DrillError
from pipeline.core.messages import message
from pipeline.teaching.drill_features import MotionTrack

FEWEST_EXAMPLES = 3

SHORTEST_S, LONGEST_S = 0.4, 15.0
"""A rep that is marked shorter or longer than this is a slip of the pen."""

FEWEST_SEEN = 0.7
"""Share of a marked rep in which the athlete has to have been seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Marked:
    """What the coach marked in a clip.

    Attributes
    ----------
    windows_s
        Start and stop of each rep, in the order of the clip.
    events_s
        By name, instants; at most one in each rep.
    """

    windows_s: tuple[tuple[float, float], ...]
    events_s: Mapping[str, tuple[float, ...]]


def check_marked(marked: Marked, end_s: float, clip_name: str) -> None:
    """Raise `DrillError` for marks from which nothing can be learned."""
    windows_s = marked.windows_s
    if len(windows_s) < FEWEST_EXAMPLES:
        raise DrillError.of(
            "too_few_reps_marked", clip=clip_name, n=len(windows_s), fewest=FEWEST_EXAMPLES
        )
    for number, (start_s, stop_s) in enumerate(windows_s):
        rep = message("drill_parts.rep", clip=clip_name, start=start_s, stop=stop_s)
        if stop_s > end_s + 0.5 or start_s < 0.0:
            raise DrillError.of("marked_rep_not_in_clip", rep=rep, end=end_s)
        if not SHORTEST_S <= stop_s - start_s <= LONGEST_S:
            raise DrillError.of(
                "marked_rep_of_wrong_length", rep=rep, length=stop_s - start_s,
                shortest=SHORTEST_S, longest=LONGEST_S,
            )  # fmt: skip
        if number and start_s < windows_s[number - 1][1] - 1e-9:
            raise DrillError.of("marked_rep_over_another", rep=rep)
    for name, instants_s in marked.events_s.items():
        _check_event(name, instants_s, windows_s, clip_name)


def _check_event(
    name: str,
    instants_s: Sequence[float],
    windows_s: Sequence[tuple[float, float]],
    clip_name: str,
) -> None:
    """Raise `DrillError` unless each instant lies in a rep of its own, and two at least do."""
    holders = []
    for instant_s in instants_s:
        inside = [n for n, (start_s, stop_s) in enumerate(windows_s)
                  if start_s <= instant_s <= stop_s]  # fmt: skip
        if not inside or inside[0] in holders:
            wrong = "second_event_in_a_rep" if inside else "event_in_no_rep"
            raise DrillError.of(wrong, clip=clip_name, event=name, at=instant_s)
        holders.append(inside[0])
    if len(holders) < 2:
        raise DrillError.of("event_in_one_rep", clip=clip_name, event=name)


def check_seen(marked: Marked, track: MotionTrack, clip_name: str) -> None:
    """Raise `DrillError` for a rep in which the athlete was hardly seen."""
    for start_s, stop_s in marked.windows_s:
        inside = (track.time_s >= start_s) & (track.time_s <= stop_s)
        if inside.sum() < 4 or track.known[inside].mean() < FEWEST_SEEN:
            raise DrillError.of("hardly_seen", clip=clip_name, start=start_s, stop=stop_s)
