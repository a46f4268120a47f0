"""What the classifier takes the reps of a drill for, beside how they move."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from models.moves.classifier import move_classifier
from pipeline.moves.body_frame import body_frame
from pipeline.moves.signals import signals_of
from pipeline.teaching.classifier_check import Looks, alike, common_look, look_at, looks_of
from pipeline.teaching.drills import find_drill
from tests.fixtures.drilling import WINDOWS_S, drill_of, drill_player, film_of, frame_of
from tests.fixtures.simulated import film_of as simulated

CLASSES = move_classifier().classes
SHARES = arrays(float, 5, elements=st.floats(0.01, 1.0)).map(lambda a: a / a.sum())


FRAME = frame_of(drill_player())[0]
SPLIT, ROLL = (
    np.array([float(name == move) for name in CLASSES]) for move in ("split_dodge", "roll_dodge")
)
TAUGHT = drill_of(FRAME, look=SPLIT, look_by="w")


def looks(**said):
    """A clip of 3 s; in its middle second the classifier says what is given."""
    probabilities = np.zeros((60, len(CLASSES)))
    probabilities[:, CLASSES.index("not_a_rep")] = 1.0
    probabilities[20:40] = [said.get(name, 0.0) for name in CLASSES]
    return Looks(time_s=np.arange(60) / 20.0, probabilities=probabilities, weights="w")


@pytest.mark.slow
@given(SHARES, SHARES)
def test_alikeness_is_even_handed_and_greatest_with_oneself(one, other):
    assert alike(one, other) == pytest.approx(alike(other, one))
    assert alike(one, other) <= 1.0 + 1e-12
    assert alike(one, one) == pytest.approx(1.0)


def test_what_has_nothing_in_common_is_not_alike():
    assert alike(np.array([1.0, 0.0]), np.array([0.0, 1.0])) == 0.0


def test_the_look_of_a_stretch_is_that_of_its_surest_moment():
    look = look_at(looks(roll_dodge=0.75, other=0.25), 0.5, 2.5)
    assert look[CLASSES.index("roll_dodge")] == pytest.approx(0.75, abs=0.16)
    still = look_at(looks(roll_dodge=1.0), 0.0, 0.7)
    assert still[CLASSES.index("not_a_rep")] == 1.0


def test_no_look_is_below_nothing_where_the_classifier_was_sure_before():
    said = looks(roll_dodge=1.0)
    for stop_s in np.arange(0.6, 3.0, 0.1):
        look = look_at(said, 0.5, stop_s)
        assert look.min() >= 0.0
        assert alike(look, look) == pytest.approx(1.0)


def test_a_drill_that_looks_like_no_move_has_no_look():
    assert common_look(looks(other=0.9, roll_dodge=0.1), [(1.0, 2.0), (1.2, 1.9)]) is None
    known = common_look(looks(roll_dodge=0.9, other=0.1), [(1.0, 2.0), (1.2, 1.9)])
    assert known is not None
    assert CLASSES[int(known.argmax())] == "roll_dodge"


def test_the_classifier_is_asked_about_every_instant():
    film = simulated(3, "split_dodge")
    signals = signals_of(film.athlete)
    said = looks_of(body_frame(film.athlete, signals), signals, None)
    assert said.probabilities.shape == (said.time_s.size, len(CLASSES))
    assert said.probabilities.sum(axis=1) == pytest.approx(1.0)


def split_looks(share):
    """Looks over the film of the drill: each rep a split with this share, the rest another move."""
    track, _ = film_of(FRAME)
    probabilities = np.zeros((track.time_s.size, len(CLASSES)))
    probabilities[:, CLASSES.index("not_a_rep")] = 1.0
    for start_s, stop_s in WINDOWS_S:
        rep = (track.time_s > start_s + 0.4) & (track.time_s < stop_s - 0.1)
        probabilities[rep] = share * SPLIT + (1.0 - share) * ROLL
    return Looks(time_s=track.time_s, probabilities=probabilities, weights="w")


def test_reps_that_are_taken_for_another_move_are_left_out():
    film = film_of(FRAME)
    assert len(find_drill(TAUGHT, *film, split_looks(1.0))) == len(TAUGHT.examples)
    assert find_drill(TAUGHT, *film, split_looks(0.05)) == []


def test_reps_somewhat_out_of_reach_count_if_they_are_taken_for_the_same():
    film = film_of(FRAME)
    near = max(one.distance for one in find_drill(TAUGHT, *film))
    short = replace(TAUGHT, reach=near / 1.2)
    assert len(find_drill(short, *film)) < len(TAUGHT.examples)
    assert len(find_drill(short, *film, split_looks(1.0))) == len(TAUGHT.examples)


def test_looks_by_other_weights_are_not_compared():
    film = film_of(FRAME)
    elsewhere = replace(split_looks(0.05), weights="others")
    assert len(find_drill(TAUGHT, *film, elsewhere)) == len(TAUGHT.examples)


def test_what_is_said_for_no_rep_does_not_count_for_an_example():
    half = common_look(looks(roll_dodge=0.3, other=0.05, not_a_rep=0.65), [(1.0, 2.0)])
    assert half is not None
    assert half.sum() == pytest.approx(1.0)
    assert half[CLASSES.index("roll_dodge")] == pytest.approx(0.3 / 0.35)
    assert common_look(looks(roll_dodge=0.1, not_a_rep=0.9), [(1.0, 2.0)]) is None


def test_what_is_surely_no_rep_is_no_rep_of_a_drill_like_a_known_move():
    film = film_of(FRAME)
    still = split_looks(1.0)
    still.probabilities[:] = np.array([float(name == "not_a_rep") for name in CLASSES])
    assert find_drill(TAUGHT, *film, still) == []
    # A drill that is like no known move is found by its motion alone.
    assert len(find_drill(replace(TAUGHT, look=None), *film, still)) == len(TAUGHT.examples)
