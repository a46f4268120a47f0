"""What a correction teaches: the right moments of the film, under the right name."""

import numpy as np
import pytest

from models.moves.classifier import move_classifier
from pipeline.core.errors import CorrectionError
from pipeline.teaching.corrections import (
    AWAY_S,
    NEAR_S,
    anchors_of,
    away_from,
    class_of,
    dismissed,
    joined,
    relabelled,
    same_reps,
)
from tests.fixtures.corrected import correction, film, moments

BASE = move_classifier()
WINDOWS_S = [(rep.start_s, rep.stop_s) for rep in film().reps]


def times_of(lesson):
    known = {row.tobytes(): t for row, t in zip(moments().features, moments().time_s, strict=True)}
    return np.array([known[row.tobytes()] for row in lesson.features])


def test_a_rep_is_learned_from_its_key_moment():
    lesson = relabelled(moments(), WINDOWS_S[0], "split_dodge", BASE)
    at_s = times_of(lesson)
    assert np.ptp(at_s) <= 2 * NEAR_S
    assert WINDOWS_S[0][0] - NEAR_S <= at_s.min() <= at_s.max() <= WINDOWS_S[0][1] + 2 * NEAR_S
    assert (lesson.label, lesson.clip) == ("split_dodge", "3" * 64)


def test_no_rep_is_learned_from_all_that_looked_like_one():
    lesson = dismissed(moments(), WINDOWS_S[1], BASE)
    at_s = times_of(lesson)
    assert lesson.label == "not_a_rep"
    assert len(at_s) > len(relabelled(moments(), WINDOWS_S[1], "x", BASE).features) - 1
    assert (at_s >= WINDOWS_S[1][0] - NEAR_S).all()
    assert (at_s <= WINDOWS_S[1][1] + NEAR_S).all()


def test_of_two_that_are_one_the_likelier_is_the_rep():
    one, other = joined(moments(), WINDOWS_S[:2], "throwback_pass", BASE)
    assert (one.label, other.label) == ("throwback_pass", "not_a_rep")
    rep = [1 - BASE.probabilities(x.features)[:, BASE.classes.index("not_a_rep")].max()
           for x in (one, other)]  # fmt: skip
    assert rep[0] >= rep[1] - 0.1


def test_where_nothing_goes_on_nothing_is_learned():
    with pytest.raises(CorrectionError, match="nothing going on"):
        relabelled(moments(), (-9.0, -8.0), "split_dodge", BASE)


def test_anchors_are_chosen_alike_each_time_and_lie_away():
    time_s, features = anchors_of(moments())
    again_s, _ = anchors_of(moments())
    assert np.array_equal(time_s, again_s)
    assert len(features) == len(time_s) <= 60
    away = away_from(time_s, WINDOWS_S[:1])
    start_s, stop_s = WINDOWS_S[0]
    assert not away[(time_s > start_s - AWAY_S) & (time_s < stop_s + AWAY_S)].any()
    assert away[time_s > stop_s + 2 * AWAY_S].all()


def test_a_later_word_on_the_same_rep_is_about_the_same():
    one = correction(BASE)
    assert same_reps(one, correction(BASE, at="later"))
    assert not same_reps(one, correction(BASE, number=1))
    assert not same_reps(one, correction(BASE, clip="other"))


def test_none_of_the_moves_is_a_class_of_its_own():
    assert class_of("unknown") == "other"
    assert class_of("not_a_rep") == "not_a_rep"
