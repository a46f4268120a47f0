"""Reps found in film of which nothing was told: each once, with its move, or as unknown."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from models.training.film import CLASSES
from pipeline.moves.naming.candidates import BETWEEN_REPS_S, find_moments
from pipeline.moves.naming.find_all import find_all_reps
from pipeline.moves.signals import signals_of
from tests.fixtures.simulated import film_of, mirrored_motion, scaled, turned

MOVES = CLASSES[:-2]
OTHER_HAND = {"left": "right", "right": "left"}


def found_in(film):
    return find_all_reps(film.athlete, film.defender)


def windows(reps):
    return [(rep.start_s, rep.stop_s) for rep in reps]


FILM = film_of(11, *MOVES[::2], "other", noise=0.7)
FOUND = found_in(FILM)


def overlaps(a, b):
    return min(a[1], b[1]) - max(a[0], b[0]) > 0


def test_most_reps_are_found_once_and_named():
    true = [(rep.start_s, rep.stop_s) for rep in FILM.reps]
    hits = [[f for f in FOUND if overlaps((f.start_s, f.stop_s), window)] for window in true]
    assert sum(len(hit) == 1 for hit in hits) >= len(true) - 2
    named = [
        hit[0].move == (rep.label if rep.label != "other" else "unknown")
        for rep, hit in zip(FILM.reps, hits, strict=True)
        if len(hit) == 1
    ]
    assert sum(named) >= len(named) - 2


def test_no_rep_overlaps_another_and_they_are_numbered():
    assert [rep.index for rep in FOUND] == list(range(1, len(FOUND) + 1))
    for one, other in pairwise(FOUND):
        assert one.stop_s <= other.start_s + 1e-6
    for rep in FOUND:
        assert rep.start_s < rep.stop_s
        assert rep.move_by == "found"
        assert 0.0 <= rep.move_probability <= 1.0
        assert {"start", "finish"} <= set(rep.events)


def test_an_unknown_rep_has_no_events_of_a_move():
    for rep in FOUND:
        if rep.move == "unknown":
            assert set(rep.events) <= {"start", "finish", "release"}


def test_key_moments_keep_their_distance():
    signals = signals_of(FILM.athlete)
    moments = find_moments(FILM.athlete, signals, None)
    assert np.diff([moment.time_s for moment in moments]).min() >= BETWEEN_REPS_S - 1e-9


@pytest.mark.slow
@pytest.mark.parametrize("change", [mirrored_motion, lambda m: scaled(m, 0.8),
                                    lambda m: turned(m, 0.0, (5.0, 3.0))])  # fmt: skip
def test_side_place_and_size_make_no_difference(change):
    film = replace(
        FILM,
        athlete=change(FILM.athlete),
        defender=None if FILM.defender is None else change(FILM.defender),
    )
    other = found_in(film)
    assert [rep.move for rep in other] == [rep.move for rep in FOUND]
    assert np.allclose(windows(other), windows(FOUND), atol=1e-3)
    hands = [rep.stick_hand for rep in other]
    swapped = change is mirrored_motion
    assert hands == [OTHER_HAND[r.stick_hand] if swapped else r.stick_hand for r in FOUND]


def test_from_where_it_was_filmed_makes_no_difference_to_what_is_found():
    moments = find_moments(FILM.athlete, signals_of(FILM.athlete), None)
    seen = turned(FILM.athlete, 1.9)
    others = find_moments(seen, signals_of(seen), None)
    assert [m.move for m in others] == [m.move for m in moments]
    assert np.allclose([m.time_s for m in others], [m.time_s for m in moments])


@pytest.mark.slow
def test_the_frame_rate_makes_hardly_a_difference_to_what_is_found():
    off_s = []
    for seed in (12, 14, 15):
        slow, fast = (film_of(seed, "split_dodge", "low_to_high_shot", rate_hz=rate)
                      for rate in (30.0, 60.0))  # fmt: skip
        one, other = found_in(slow), found_in(fast)
        assert [rep.move for rep in one] == [rep.move for rep in other]
        for a, b in zip(one, other, strict=True):
            for name in ("start", "finish"):
                ends = a.events[name], b.events[name]
                off_s.append(abs(ends[0].time_s - ends[1].time_s))
                # Where a hand has come to rest is read from frames, and said to be that unsure.
                assert off_s[-1] < 2.0 * np.hypot(ends[0].u_s, ends[1].u_s)
    assert np.median(off_s) < 0.05


def test_one_who_was_never_seen_or_stands_has_no_reps():
    film = film_of(13, "roll_dodge")
    still = np.repeat(film.athlete.joints_m[:, :1], film.athlete.time_s.size, axis=1)
    assert find_all_reps(replace(film.athlete, joints_m=still)) == []
    assert find_all_reps(replace(film.athlete, joints_m=np.full_like(still, np.nan))) == []
