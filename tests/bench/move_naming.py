"""Finds and names the reps of films with known truth and prints how often it was right."""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from pathlib import Path

from models.moves.classifier import NOT_A_REP, OTHER, move_classifier
from pipeline.core.types import Rep
from pipeline.moves.naming.find_all import find_all_reps
from tests.bench.accuracy import without_nan
from tests.bench.clip_scores import film_of
from tests.bench.film_motions import FilmMotions, film_motions
from tests.bench.naming_scores import (
    UNKNOWN,
    Film,
    Segment,
    confusion,
    confusion_words,
    pairs,
    summed_up,
)


def main() -> int:
    """Score every film with truth in the folders given."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", nargs="+", type=Path)
    parser.add_argument("--cache", type=Path, help="Keep landmarks here from one run to the next.")
    parser.add_argument("--out", type=Path, help="Write the figures here as JSON.")
    options = parser.parse_args()
    truths = sorted(path for folder in options.folders for path in folder.rglob("*.truth.json"))
    truths = [path for path in truths if film_of(path).exists()]
    if not truths:
        print("No film with its *.truth.json there.", file=sys.stderr)
        return 1
    with tempfile.TemporaryDirectory() as scratch:
        films = [scored(film_motions(path, options.cache or Path(scratch))) for path in truths]
    for film in films:
        for words in differences(film):
            print(words)
    figures, counts = summed_up(films), confusion(films)
    for name, value in figures.items():
        print(f"{name:24}{value:10.3f}")
    print(f"\n{confusion_words(counts)}")
    if options.out is not None:
        told = json.dumps(without_nan({"figures": figures, "confusion": counts}), indent=2)
        options.out.write_text(told + "\n", encoding="utf-8")
    return 0


def scored(film: FilmMotions) -> Film:
    """Find the reps of a film and put them beside the true ones."""
    defender = film.people[1] if len(film.people) > 1 else None
    found = find_all_reps(film.people[0], defender)
    return film_of_reps(film.name, float(film.people[0].time_s[-1]), film.truth, found)


def film_of_reps(name: str, duration_s: float, truth: dict, found: list[Rep]) -> Film:
    """Put found reps beside true ones; a true move that is not taught is ``unknown``."""
    taught = set(move_classifier().classes) - {NOT_A_REP, OTHER}
    true = []
    for rep in truth["reps"]:
        move = rep.get("move", truth.get("move"))
        move = move if move in taught else UNKNOWN
        true.append(Segment(start_s=rep["start_s"], stop_s=rep["stop_s"], move=move))
    segments = [
        Segment(
            start_s=rep.start_s, stop_s=rep.stop_s, move=rep.move, probability=rep.move_probability
        )
        for rep in found
    ]
    return Film(name=name, duration_s=duration_s, true=true, found=segments)


def differences(film: Film) -> list[str]:
    """Say each rep that was missed, false, or named otherwise."""
    said = []
    for true, found in pairs(film):
        if true is None or found is None or true.move != found.move:
            both = [
                "nothing"
                if one is None
                else f"{one.move} {one.start_s:.2f}-{one.stop_s:.2f} s ({one.probability:.2f})"
                for one in (true, found)
            ]
            said.append(f"{film.name}: true {both[0]}, found {both[1]}")
    return said


if __name__ == "__main__":
    sys.exit(main())
