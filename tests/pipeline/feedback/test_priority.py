import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.results import TargetRange
from pipeline.feedback.priority import worth_of, worths
from pipeline.feedback.words import load_words
from pipeline.targets.verdicts import judge
from tests.fixtures.sessions import measured, rep_of


def between(low, high, key="step_back_m", unit="m"):
    return TargetRange(key=key, unit=unit, low=low, high=high, words="", set_by="", why="")


def worth(value, u=0.02, low=0.4, high=1.0, usefulness=1.0):
    measurement = measured("step_back_m", value, u)
    return worth_of(judge(measurement, between(low, high)), measurement, usefulness)


def test_a_miss_is_scored_as_worked_by_hand():
    # Range 0.6 m wide, missed by 0.2 m, known to 0.0392 m: 0.6/0.6392 sure, 0.2/0.8 large.
    told = worth(0.2)
    assert told.side == "low"
    assert told.certainty == pytest.approx(0.6 / (0.6 + 1.96 * 0.02))
    assert told.size == pytest.approx(0.25)
    assert told.score == pytest.approx(told.certainty * 0.25)


def test_a_range_open_on_one_side_is_as_wide_as_its_bound():
    assert worth(0.3, low=0.5, high=None).size == pytest.approx(0.2 / 0.7)
    assert worth(1.2, low=None, high=0.9).size == pytest.approx(0.3 / 1.2)


def test_a_miss_is_never_counted_in_less_than_the_smallest_real_change():
    # Without a range to speak of the unit is 1.96 sqrt(2) u = 0.0554 m.
    assert worth(-0.2, low=0.0, high=None).size == pytest.approx(0.2 / (0.2 + 0.0554), abs=1e-3)


def test_what_cannot_be_told_is_worth_nothing():
    assert worth(0.41) is None
    assert worth(0.2, u=None) is None


def test_a_count_is_missed_from_what_still_rounds_to_it():
    measurement = measured("steps_back", 2.0, 0.05)
    target = between(1.0, 1.0, key="steps_back", unit="1")
    assert worth_of(judge(measurement, target), measurement, 1.0).size == pytest.approx(1 / 3)


@given(st.floats(0.01, 0.3), st.floats(0.01, 0.3))
def test_the_larger_miss_is_worth_more(one, other):
    near, far = sorted((one, other))
    assert worth(0.3 - far).size >= worth(0.3 - near).size


@given(st.floats(0.001, 0.03), st.floats(0.001, 0.03))
def test_the_surer_number_is_worth_more(one, other):
    sharp, dull = sorted((one, other))
    assert worth(0.7, sharp).score >= worth(0.7, dull).score
    assert worth(0.2, sharp).certainty >= worth(0.2, dull).certainty


@given(st.floats(0.1, 10.0))
def test_another_unit_of_length_changes_no_score(factor):
    before = worth(0.2)
    after = worth(0.2 * factor, 0.02 * factor, 0.4 * factor, 1.0 * factor)
    assert after.score == pytest.approx(before.score)


def test_a_certain_miss_of_a_useful_measure_comes_before_a_larger_one_of_another():
    rep = rep_of(
        1,
        "throwback_pass",
        measured("step_back_m", 0.1),
        measured("turn_away_deg", 150, 5),
        measured("plant_to_release_s", 1.6),
    )
    words = load_words()
    ranked = worths("throwback_pass", rep.verdicts, rep.measurements, words.weight_of)
    assert ranked[0].key == "step_back_m"
    sizes = {told.key: told.size for told in ranked}
    assert sizes["plant_to_release_s"] > sizes["step_back_m"]


def test_what_a_coach_gives_no_weight_is_not_chosen(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text("[weight.throwback_pass]\nstep_back_m = 0\n", encoding="utf-8")
    rep = rep_of(1, "throwback_pass", measured("step_back_m", 0.1))
    assert (
        worths("throwback_pass", rep.verdicts, rep.measurements, load_words(path).weight_of) == []
    )
