"""Names that the definition of a move rules out are given to what the moment then is."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.moves.classifier import NOT_A_REP, OTHER
from models.training.film import CLASSES, TAUGHT
from pipeline.moves.body_frame import body_frame
from pipeline.moves.naming.features import right_on_top
from pipeline.moves.naming.grid import mirrored_grid, move_grid
from pipeline.moves.naming.rules import RULES, Evidence, ruled, shown_at
from pipeline.moves.signals import signals_of
from tests.fixtures.simulated import film_of, scaled, turned

NOTHING = Evidence(**{name: np.array([np.nan]) for name in Evidence.__dataclass_fields__})


WENT_ON = {
    "slowest_share": 0.2, "after_share": 1.0, "run_in": 2.0, "lasting_turn_rad": 0.1,
    "hands_apart": 0.2, "hand_at_dodge": 0.2, "spin_rad": 0.3,
}  # fmt: skip
"""A run that nearly stops and goes on the same way, the stick in both hands."""


def said_for(move, **seen):
    """What becomes of a moment that was surely one move, when this is seen."""
    shown = replace(NOTHING, **{name: np.array([value]) for name, value in seen.items()})
    sure = (np.array(CLASSES) == move).astype(float)[None]
    after = ruled(sure, CLASSES, shown)
    assert after.sum() == pytest.approx(1.0)
    return CLASSES[int(after.argmax())]


@pytest.mark.parametrize("move", TAUGHT)
def test_where_nothing_was_seen_every_name_stays(move):
    assert said_for(move) == move


@pytest.mark.parametrize(
    ("move", "seen", "then"),
    [
        ("low_to_high_shot", {"lowest_hand": 0.19}, OTHER),  # the hands never dipped
        ("low_to_high_shot", {"lowest_hand": -0.02}, "low_to_high_shot"),
        ("low_to_high_shot", {"trunk_turn_rad": 0.2}, OTHER),  # the arms alone went up
        ("high_to_low_shot", {"highest_hand": 0.2, "hand_at_release": 0.0}, OTHER),
        ("high_to_low_shot", {"highest_hand": 0.45, "hand_at_release": 0.44}, OTHER),
        ("high_to_low_shot", {"highest_hand": 0.45, "hand_at_release": 0.1}, "high_to_low_shot"),
        ("step_down_shot", {"highest_hand": 0.2}, OTHER),  # no wind-up
        ("roll_dodge", {"spin_rad": 1.5, "run_in": 2.0, "hands_apart": 0.2}, OTHER),
        ("roll_dodge", {"spin_rad": 5.0, "run_in": 0.2, "hands_apart": 0.2}, OTHER),
        (OTHER, {"spin_rad": 5.0, "run_in": 2.0, "hands_apart": 0.2}, "roll_dodge"),
        (OTHER, {"spin_rad": 5.0, "run_in": 2.0, "hands_apart": 0.5}, OTHER),  # one hand let go
        ("split_dodge", {"hand_order_after": 0.15}, "angle_cut_dodge"),
        ("split_dodge", {"hand_order_after": -0.15}, "split_dodge"),
        ("angle_cut_dodge", {"defender_rad": 0.1, "defender_away": 0.8}, "close_gap_dodge"),
        ("angle_cut_dodge", {"defender_rad": 0.1, "defender_away": 2.8}, "angle_cut_dodge"),
        ("close_gap_dodge", {"defender_rad": 1.2, "defender_away": 0.8}, "angle_cut_dodge"),
        ("close_gap_dodge", {"slowest_share": 0.2, "run_in": 2.0}, "hesitation_dodge"),
        # Nobody in the way is seen: the way itself tells.
        (
            "angle_cut_dodge",
            {"lasting_turn_rad": 0.3, "slowest_share": 0.6, "run_in": 2.0},
            "close_gap_dodge",
        ),
        ("angle_cut_dodge", {"lasting_turn_rad": 1.5, "run_in": 2.0}, "angle_cut_dodge"),
        ("close_gap_dodge", {"lasting_turn_rad": 1.5, "run_in": 2.0}, "angle_cut_dodge"),
        ("split_dodge", {"run_in": 0.2}, NOT_A_REP),  # sets off from a stand
        (OTHER, WENT_ON, "hesitation_dodge"),
        (OTHER, WENT_ON | {"hand_at_dodge": -0.3}, OTHER),  # a ball was scooped
        (OTHER, WENT_ON | {"after_share": 0.3}, OTHER),  # the run had ended
        (
            "hesitation_dodge",
            {"defender_rad": 0.1, "defender_away": 0.8, "slowest_share": 0.8, "run_in": 2.0},
            "close_gap_dodge",
        ),
    ],
)
def test_a_name_against_its_definition_is_changed(move, seen, then):
    assert said_for(move, **seen) == then


def test_a_cut_at_a_defender_that_looked_like_a_split_closes_the_gap():
    seen = {"hand_order_after": 0.1, "defender_rad": 0.1, "defender_away": 0.8}
    assert said_for("split_dodge", **seen) == "close_gap_dodge"


def test_classes_that_a_teams_own_classifier_lacks_are_left_alone():
    even = np.full((1, 2), 0.5)
    shown = replace(NOTHING, lowest_hand=np.array([0.3]))
    assert np.array_equal(ruled(even, ("low_to_high_shot", "not_a_rep"), shown), even)


def test_every_rule_speaks_of_known_classes():
    assert {rule.move for rule in RULES} | {rule.then for rule in RULES} <= set(CLASSES)


def shown_in(athlete, defender=None):
    signals = signals_of(athlete)
    other = None if defender is None else signals_of(defender)
    grid = move_grid(body_frame(athlete, signals), signals, other)
    rows = np.arange(30, grid.time_s.size - 30, 9)
    return grid, rows, shown_at(grid, rows, right_on_top(grid, rows))


@pytest.mark.slow
@given(
    seed=st.integers(0, 10_000),
    move=st.sampled_from(list(TAUGHT)),
    angle=st.floats(-3.1, 3.1),
    factor=st.floats(0.6, 1.5),
)
@settings(max_examples=4, deadline=None, derandomize=True)
def test_what_is_read_is_the_same_wherever_one_stands_and_however_tall(seed, move, angle, factor):
    film = film_of(seed, move)
    people = [p for p in (film.athlete, film.defender) if p is not None]
    _, _, here = shown_in(*people)
    _, _, there = shown_in(*[scaled(turned(p, angle, (4.0, -7.0)), factor) for p in people])
    for name in Evidence.__dataclass_fields__:
        one, other = getattr(here, name), getattr(there, name)
        assert other == pytest.approx(one, abs=3e-3, nan_ok=True), name


@given(seed=st.integers(0, 10_000), move=st.sampled_from(list(TAUGHT)))
@settings(max_examples=4, deadline=None, derandomize=True)
def test_the_mirror_image_is_read_with_the_hands_changed(seed, move):
    film = film_of(seed, move)
    grid, rows, _ = shown_in(film.athlete)
    right = right_on_top(grid, rows)
    here, there = shown_at(grid, rows, right), shown_at(mirrored_grid(grid), rows, ~right)
    for name in Evidence.__dataclass_fields__:
        one, other = getattr(here, name), getattr(there, name)
        assert other == pytest.approx(one, abs=1e-6, nan_ok=True), name


@pytest.mark.slow
@pytest.mark.parametrize("move", TAUGHT)
def test_simulated_moves_seldom_contradict_their_own_definition(move):
    kept = []
    for seed in range(12):
        film = film_of(700 + seed, move, noise=0.5)
        signals = signals_of(film.athlete)
        other = None if film.defender is None else signals_of(film.defender)
        grid = move_grid(body_frame(film.athlete, signals), signals, other)
        rows = np.array([int(np.argmin(np.abs(grid.time_s - film.reps[0].key_s)))])
        shown = shown_at(grid, rows, np.array([film.reps[0].hand == "right"]))
        sure = (np.array(CLASSES) == move).astype(float)[None]
        kept.append(CLASSES[int(ruled(sure, CLASSES, shown).argmax())] == move)
    assert sum(kept) >= 9, kept


def test_a_coach_who_taught_otherwise_has_the_last_word():
    shown = replace(NOTHING, lowest_hand=np.array([0.3]))
    sure = (np.array(CLASSES) == "low_to_high_shot").astype(float)[None]
    left = ruled(sure, CLASSES, shown)[0]
    assert left[CLASSES.index(OTHER)] > 0.9
    assert left[CLASSES.index("low_to_high_shot")] > 0.01  # which a team's own layer can raise
