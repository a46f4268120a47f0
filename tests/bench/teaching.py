"""Teaches each move from a few reps of one clip, as if it were new, and looks for it in others.

    python -m tests.bench.teaching FOLDER... [--cache FOLDER] [--teachers 4]

Each folder holds rendered clips with their truth. The move of a clip is taken for a drill that
nobody has seen: at most four of its reps are the examples. It is then looked for in every clip of
the same move with another body, and in every clip of other moves, where it must not be found.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from pipeline.core.errors import CrossemetryError
from pipeline.core.types import Motion
from pipeline.moves.body_frame import body_frame, mirrored
from pipeline.moves.signals import signals_of
from pipeline.scene.motion import motion_of
from pipeline.scene.placed_clip import load_placed_clip
from pipeline.settings.settings import GivenSettings, resolve
from pipeline.settings.side_file import read_side_file
from pipeline.teaching.classifier_check import Looks, common_look, looks_of
from pipeline.teaching.drill_examples import event_disagreement_s, examples_from
from pipeline.teaching.drill_features import MotionTrack, motion_track
from pipeline.teaching.drills import Drill, DrillMatch, find_drill, fitted
from pipeline.teaching.teach import hand_of_examples
from tests.bench.clip_scores import film_of
from tests.bench.scoring import match_reps

MOST_EXAMPLES = 4
FEWEST_EXAMPLES = 3
OWN_EVENTS = ("start", "finish")


@dataclass
class Film:
    """A clip as the drill is looked for in it: motion, mirror image, truth."""

    name: str
    move: str
    stature_m: float
    reps: list[dict[str, Any]]
    track: MotionTrack
    mirror: MotionTrack
    looks: Looks


@dataclass
class Score:
    """How one drill did."""

    move: str
    taught_from: str
    n_examples: int
    reach: float
    n_true: int = 0
    n_found: int = 0
    n_false_same: int = 0
    n_false_other: int = 0
    n_other: int = 0
    n_hands_told: int = 0
    n_hands_right: int = 0
    event_errors_u: dict[str, list[tuple[float, float]]] = field(default_factory=dict)

    def line(self) -> str:
        """Give one row of the table."""
        share = self.n_found / max(self.n_true, 1)
        events = ", ".join(
            f"{name} {1000 * np.median(np.abs(errors)):.0f} ms "
            f"({np.mean(np.abs(errors) < 2 * np.array(us)):.0%} within 2 u)"
            for name, pairs in self.event_errors_u.items()
            for errors, us in [np.array(pairs).T]
        )
        return (
            f"| {self.move} | {self.taught_from} ({self.n_examples}) | {self.n_found} of "
            f"{self.n_true} ({share:.0%}) | {self.n_false_same} | {self.n_false_other} in "
            f"{self.n_other} clips | {self.n_hands_right} of {self.n_hands_told} | {events} |"
        )


def films_of(truth_paths: Sequence[Path], cache: Path) -> list[Film]:
    """Place the athlete of every clip."""
    films = []
    for path in truth_paths:
        truth = json.loads(path.read_text(encoding="utf-8"))
        clip = film_of(path)
        try:
            settings = resolve(GivenSettings(), read_side_file(clip), clip_name=clip.name)
            seen = load_placed_clip(clip, settings, cache_dir=cache)
        except CrossemetryError as error:
            print(f"{clip.name}: {error}", file=sys.stderr)
            continue
        motion = motion_of(
            seen.people[0], seen.clip.time_s, seen.scene, 0, seen.clip.n_frames, n_draws=1
        )
        defender = None
        if len(seen.people) > 1:
            defender = motion_of(
                seen.people[1], seen.clip.time_s, seen.scene, 0, seen.clip.n_frames, n_draws=1
            )
        films.append(film_seen(clip.stem, truth, motion, defender))
        print(f"{clip.stem}: seen", file=sys.stderr)
    return films


def film_seen(name: str, truth: dict[str, Any], athlete: Motion, defender: Motion | None) -> Film:
    """Put together what a drill is looked for in."""
    signals = signals_of(athlete)
    other = None if defender is None else signals_of(defender)
    frame = body_frame(athlete, signals)
    return Film(
        name=name,
        move=truth["move"],
        stature_m=truth["stature_m"],
        reps=truth["reps"],
        track=motion_track(frame),
        mirror=motion_track(mirrored(frame)),
        looks=looks_of(frame, signals, other),
    )


def taught_from(film: Film) -> Drill:
    """Teach the move of a film from its first reps of that move."""
    reps = [rep for rep in film.reps if rep["move"] == film.move][:MOST_EXAMPLES]
    names = dict.fromkeys(name for rep in reps for name in rep["events"] if name not in OWN_EVENTS)
    events_s = {
        name: tuple(rep["events"][name]["time_s"] for rep in reps if name in rep["events"])
        for name in names
    }
    events_s = {name: times for name, times in events_s.items() if len(times) >= 2}
    both = film.track, film.mirror
    windows_s = [(rep["start_s"], rep["stop_s"]) for rep in reps]
    examples = examples_from(both, windows_s, events_s)
    factors, reach = fitted(examples, [both])
    hands = [rep["stick_hand"] for rep in reps]
    return Drill(
        name="drill",
        examples=examples,
        hand=hand_of_examples(examples, hands),
        factors=factors,
        reach=reach,
        event_u_s={name: event_disagreement_s(examples, name) for name in events_s},
        look=common_look(film.looks, windows_s),
        look_by=film.looks.weights,
    )


def score(teacher: Film, films: Sequence[Film]) -> Score:
    """Teach from one film and look in all others."""
    drill = taught_from(teacher)
    result = Score(
        move=teacher.move,
        taught_from=teacher.name,
        n_examples=len(drill.examples),
        reach=drill.reach,
    )
    for film in films:
        if abs(film.stature_m - teacher.stature_m) < 1e-6:
            continue  # the same body
        found = find_drill(drill, film.track, film.mirror, film.looks)
        true = [rep for rep in film.reps if rep["move"] == teacher.move]
        pairs = match_reps(
            [(rep["start_s"], rep["stop_s"]) for rep in true],
            [(one.start_s, one.stop_s) for one in found],
        )
        if true:
            result.n_true += len(true)
            result.n_found += len(pairs)
            result.n_false_same += len(found) - len(pairs)
        else:
            result.n_other += 1
            result.n_false_other += len(found)
        for i_true, i_found in pairs:
            _add(result, drill, true[i_true], found[i_found])
    return result


def _add(result: Score, drill: Drill, rep: dict[str, Any], found: DrillMatch) -> None:
    other = {"left": "right", "right": "left"}
    if drill.hand is not None:
        hand = drill.hand if found.side == "same" else other[drill.hand]
        result.n_hands_told += 1
        result.n_hands_right += hand == rep["stick_hand"]
    for name, u_s in drill.event_u_s.items():
        if name in rep["events"]:
            error_s = found.events_s[name] - rep["events"][name]["time_s"]
            result.event_errors_u.setdefault(name, []).append((error_s, u_s))


def main() -> None:
    """Run the bench and print a table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", nargs="+", type=Path)
    parser.add_argument("--cache", type=Path, default=Path("out/.cache"))
    parser.add_argument("--teachers", type=int, default=4, help="clips to teach from, each move")
    parser.add_argument("--seed", type=int, default=0)
    given = parser.parse_args()
    paths = [path for folder in given.folders for path in sorted(folder.glob("*.truth.json"))]
    films = films_of(paths, given.cache)
    moves: dict[str, list[Film]] = {}
    for film in films:
        if sum(rep["move"] == film.move for rep in film.reps) >= FEWEST_EXAMPLES:
            moves.setdefault(film.move, []).append(film)
    print("| move | taught from (examples) | found | false, same move | false, other moves "
          "| hand right, where the side tells it | events: median error |")  # fmt: skip
    print("| --- | --- | --- | --- | --- | --- | --- |")
    generator = np.random.default_rng(given.seed)
    for teachers in moves.values():
        chosen = generator.permutation(len(teachers))[: given.teachers]
        for number in sorted(chosen):
            print(score(teachers[number], films).line(), flush=True)


if __name__ == "__main__":
    main()
