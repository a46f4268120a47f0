"""Corrects 30 reps of one move and prints how the move is named on held-out reps before and after.

    python -m tests.bench.corrections [--moves MOVE...] [--reps 30]

The films are simulated, with seeds that nothing was trained on, one body and style for each film.
All corrections are of one move, as a coach makes them who goes through the reps of one drill; the
held-out films are of other bodies.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterable

import numpy as np

from models.moves.classifier import MoveClassifier, move_classifier
from models.training.film import TAUGHT, SimulatedFilm, simulate_film
from pipeline.core.errors import CorrectionError
from pipeline.moves.body_frame import body_frame
from pipeline.moves.naming.candidates import judged_moments
from pipeline.moves.signals import signals_of
from pipeline.teaching.corrections import anchors_of, away_from, moments_of, relabelled
from pipeline.teaching.team_classifier import Lesson, fit_layer, with_layer

SEED, HELD_OUT_SEED = 91, 92
REPS_A_FILM = 5
N_HELD_OUT = 8
NEAR_S = 0.11


def films_of(seed: int, labels: tuple[str, ...], n: int) -> list[SimulatedFilm]:
    """Simulate films with all of these reps each, seen as the pose model sees."""
    return [
        simulate_film(np.random.default_rng([seed, number]), labels=list(labels), rate_hz=60.0)
        for number in range(n)
    ]


def lessons_of(
    films: Iterable[SimulatedFilm], base: MoveClassifier, n: int
) -> tuple[list[Lesson], list[Lesson]]:
    """Correct the first reps of films; also give moments that nobody corrected."""
    lessons: list[Lesson] = []
    anchors = []
    for number, film in enumerate(films):
        moments = moments_of(f"film {number}", film.athlete, film.defender, None)
        for rep in film.reps:
            try:
                lesson = relabelled(moments, (rep.start_s, rep.stop_s), rep.label, base)
            except CorrectionError:
                continue  # hidden all the time
            lessons.append(lesson)
        time_s, features = anchors_of(moments)
        away = away_from(time_s, [(rep.start_s, rep.stop_s) for rep in film.reps])
        anchors.append(Lesson(features=features[away], label="", clip=moments.clip))
    return lessons[:n], anchors


def named_right(classifier: MoveClassifier, film: SimulatedFilm) -> list[tuple[str, bool]]:
    """Tell of each rep of a film its move, and whether it is the likeliest at its key moment."""
    signals = signals_of(film.athlete)
    other = None if film.defender is None else signals_of(film.defender)
    judged = judged_moments(body_frame(film.athlete, signals), signals, other, None, classifier)
    right = []
    for rep in film.reps:
        near = np.abs(judged.time_s - rep.key_s) <= NEAR_S
        likely = judged.probabilities[near].mean(axis=0)
        right.append((rep.label, judged.classes[int(likely.argmax())] == rep.label))
    return right


def main() -> None:
    """Run the bench and print a table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--moves", nargs="+", default=list(TAUGHT), choices=list(TAUGHT))
    parser.add_argument("--reps", type=int, default=30)
    given = parser.parse_args()
    base = move_classifier()
    held_out = films_of(HELD_OUT_SEED, tuple(TAUGHT), N_HELD_OUT)
    print("| corrected move | corrections | that move right | other moves right | learned in |")
    print("| --- | ---: | ---: | ---: | ---: |")
    before = [each for film in held_out for each in named_right(base, film)]
    for move in given.moves:
        own = films_of(HELD_OUT_SEED + 1, (move,) * REPS_A_FILM, N_HELD_OUT)
        own_before = [right for film in own for _, right in named_right(base, film)]
        n_films = -(-given.reps // REPS_A_FILM)
        lessons, anchors = lessons_of(
            films_of(SEED, (move,) * REPS_A_FILM, n_films), base, given.reps
        )
        started_s = time.perf_counter()
        taught = with_layer(base, fit_layer(base, lessons, anchors))
        took_s = time.perf_counter() - started_s
        own_after = [right for film in own for _, right in named_right(taught, film)]
        after = [each for film in held_out for each in named_right(taught, film)]
        others = [
            sum(right for label, right in all_reps if label != move) for all_reps in (before, after)
        ]
        n_others = sum(label != move for label, _ in before)
        own_said = f"{sum(own_before)} -> {sum(own_after)} of {len(own_after)}"
        others_said = f"{others[0]} -> {others[1]} of {n_others}"
        print(
            f"| {move} | {len(lessons)} | {own_said} | {others_said} | {took_s:.1f} s |", flush=True
        )


if __name__ == "__main__":
    main()
