from string import Formatter

import pytest

from pipeline.core.errors import SettingsError
from pipeline.core.files import VARIABLE
from pipeline.core.move_table import MOVE_INFO, known_moves
from pipeline.core.results import FieldSide, Measurement, TargetRange
from pipeline.core.types import Rep
from pipeline.feedback.words import (
    COACHS_WORDS,
    listed,
    load_words,
    mean_text,
    number_text,
    plain_number,
    range_text,
    rep_text,
)
from pipeline.measures import MEASURES, measures_of


def measured(key, value, u, interval95=None):
    return Measurement(key=key, unit=MEASURES[key].unit, value=value, u=u, interval95=interval95)


def between(key, low, high):
    return TargetRange(
        key=key,
        unit=MEASURES[key].unit,
        low=low,
        high=high,
        words="as written",
        set_by="a coach",
        why="a test",
    )


def test_every_measure_and_move_has_its_words():
    words = load_words()
    phrases = {"title", "name", "said", "low", "high", "try_low", "try_high"}
    assert set(words.measure) == set(MEASURES)
    assert all(set(of_measure) - {"picture"} == phrases for of_measure in words.measure.values())
    assert all("{number}" in of_measure["said"] for of_measure in words.measure.values())
    for move in known_moves():
        assert move in words.moves
        assert set(words.order[move]) <= {info.key for info in measures_of(move)}
    assert set(words.grades) == {"A", "B", "C"}
    assert {info.unit_word for info in MEASURES.values()} <= set(words.units)


def test_a_number_is_said_with_half_its_95_percent_interval():
    height = measured("release_height_m", 1.714, 0.02, interval95=(1.67, 1.75))
    assert number_text(load_words(), height) == "1.71 m, give or take 0.04 m"


def test_without_an_interval_it_is_two_standard_uncertainties_rounded_up():
    assert number_text(load_words(), measured("hand_drop_m", 0.5, 0.021)) == (
        "0.50 m, give or take 0.05 m"
    )


def test_a_small_uncertainty_is_never_shown_as_none():
    assert number_text(load_words(), measured("hand_drop_m", 0.5, 0.0001)) == (
        "0.50 m, give or take 0.01 m"
    )


@pytest.mark.parametrize(("u", "said"), [(0.1, "1"), (0.6, "1, give or take 1"), (None, "1")])
def test_a_count_is_said_in_whole_numbers(u, said):
    assert number_text(load_words(), measured("steps_back", 1.0, u)) == said


def test_what_was_not_measured_has_no_number_to_say():
    with pytest.raises(ValueError, match="no number"):
        number_text(load_words(), Measurement(key="hand_drop_m", unit="m", reason="hidden"))


def test_there_is_no_minus_zero():
    assert plain_number("hand_drop_m", -0.001) == "0.00"
    assert plain_number("trunk_lean_deg", -0.4) == "0"
    assert plain_number("trunk_lean_deg", -1.4) == "-1"


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (0.4, 1.0, "0.40 to 1.00 m"),
        (0.4, None, "at least 0.40 m"),
        (None, 1.0, "at most 1.00 m"),
        (0.4, 0.4, "exactly 0.40 m"),
        (None, None, "as written"),
    ],
)
def test_a_range_is_said_in_the_unit_of_its_measure(low, high, said):
    assert range_text(load_words(), between("step_back_m", low, high)) == said


def test_a_coach_changes_only_the_words_that_differ(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text('[measure.hand_drop_m]\ntry_low = "hands to the hip"\n', encoding="utf-8")
    own, shipped = load_words(path), load_words()
    assert own.measure["hand_drop_m"]["try_low"] == "hands to the hip"
    assert own.measure["hand_drop_m"]["said"] == shipped.measure["hand_drop_m"]["said"]
    assert own.cautions == shipped.cautions


def test_weights_follow_the_order_unless_a_coach_gives_others(tmp_path):
    shipped = load_words()
    first, second, *_ = shipped.order["throwback_pass"]
    assert shipped.weight_of("throwback_pass", first) == 1.0
    assert shipped.weight_of("throwback_pass", second) == pytest.approx(0.8)
    last = min(shipped.weight_of("throwback_pass", key) for key in shipped.order["throwback_pass"])
    assert shipped.weight_of("throwback_pass", "trunk_lean_deg") < last
    path = tmp_path / "own.toml"
    path.write_text("[weight.throwback_pass]\ntrunk_lean_deg = 2\n", encoding="utf-8")
    assert load_words(path).weight_of("throwback_pass", "trunk_lean_deg") == 2
    assert load_words(path).weight_of("throwback_pass", first) == 1.0


def test_a_measure_is_spoken_of_as_it_is_in_its_move():
    words = load_words()
    low_fake = words.for_move("low_to_high_shot").measure
    assert "low fake" in low_fake["fake_to_release_s"]["said"]
    assert words.for_move("high_to_low_shot") is words
    assert "low corner" in low_fake["head_pitch_at_fake_deg"]["try_high"]
    assert low_fake["hand_drop_m"] == words.measure["hand_drop_m"]
    for of_move in words.of_move.values():
        for key, phrases in of_move.items():
            assert set(phrases) <= set(words.measure[key])


def test_a_mean_of_counts_has_a_decimal_and_others_keep_theirs():
    words = load_words()
    assert mean_text(words, "steps_back", 1.3, 0.2) == "1.3, give or take 0.2"
    assert mean_text(words, "steps_back", 1.0, 0.0) == "1.0"
    assert mean_text(words, "step_back_m", 0.714) == "0.71 m"
    assert mean_text(words, "step_back_m", 0.714, 0.021) == "0.71 m, give or take 0.03 m"


def test_a_number_of_a_measure_outside_the_table_has_the_unit_of_its_name():
    knee = Measurement(key="knee_in_deg", unit="deg", value=13.6, u=2.0)
    assert number_text(load_words(), knee) == "14 degrees, give or take 4 degrees"


@pytest.mark.parametrize(
    ("parts", "said"), [([3], "3"), ([3, 4], "3 and 4"), ([1, 2, 4], "1, 2 and 4")]
)
def test_several_things_are_listed_in_a_row(parts, said):
    assert listed(load_words(), parts) == said


@pytest.mark.slow
@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ('[measure.hand_dorp_m]\nsaid = "x"', "line 1, measure.hand_dorp_m"),
        ('[measure.hand_drop_m]\ntry_lo = "x"', "try_low"),
        ('[measure.hand_drop_m]\nsaid = "down by {nunber}"', "number"),
        ('[sentences]\ngood = "Good: {said"', "line 2, sentences.good"),
        ("[sentences]\ngood = 3", "text in quotes"),
        ('[cautions]\ncontact = "In {repz}"', "reps"),
        ('[session]\nwork_on = "{sad}"', "said"),
        ('[riders]\nknee = "{number}"', "number"),
        ('[look_from]\nknee_in_deg = "far"', "a number"),
        ("[look_from]\nknee_inn_deg = 3", "knee_in_deg"),
        ("[weight.throwbak_pass]\nstep_back_m = 1", "throwback_pass"),
        ("[weight]\nthrowback_pass = 1", "line 2, weight.throwback_pass"),
        ("[weight.throwback_pass]\nstep_bak_m = 1", "step_back_m"),
        ("[weight.throwback_pass]\nhand_drop_m = 1", "not measured in this move"),
        ("[weight.throwback_pass]\nstep_back_m = -1", "from 0 (never told)"),
        ('[weight.throwback_pass]\nstep_back_m = "much"', "from 0 (never told)"),
    ],
)
def test_a_mistake_in_own_words_is_told_by_line(tmp_path, text, hint):
    path = tmp_path / "own.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SettingsError) as caught:
        load_words(path)
    assert hint in str(caught.value)


def test_a_coach_s_own_sentences_in_the_data_folder_come_before_the_shipped_ones(
    monkeypatch, tmp_path
):
    monkeypatch.setenv(VARIABLE, str(tmp_path))
    assert load_words().sentences["nothing"].startswith("Nothing")
    (tmp_path / COACHS_WORDS).write_text('[sentences]\nnothing = "No luck."\n', encoding="utf-8")
    assert load_words().sentences["nothing"] == "No luck."
    assert load_words().sentences["unknown"].startswith("This rep")


def test_a_rep_is_said_with_its_time_its_hand_and_the_side_of_the_field():
    rep = Rep(index=1, start_s=1.04, stop_s=2.5, start_frame=31, stop_frame=75, move="x",
              stick_hand="left")  # fmt: skip
    assert rep_text(rep, FieldSide("natural", None)) == (
        "1.0 s to 2.5 s, left hand on top, natural side of the field for that hand"
    )
    assert rep_text(rep, FieldSide()).endswith("side of the field not known (no goal was marked)")


def test_every_text_of_the_report_can_be_filled_in_and_every_event_has_its_name():
    words = load_words()
    report = words.report
    for name, text in report.items():
        parts = [part for part in Formatter().parse(text) if part[1]]
        shown = {part[1]: 1.0 if part[2] else "x" for part in parts}
        assert "{" not in words.text(f"report.{name}", **shown)
    for name in ("start", "finish", "release", *(info.key_event for info in MOVE_INFO.values())):
        assert f"event_{name}" in report


def test_a_coachs_text_of_the_report_cannot_reach_into_what_is_put_in(tmp_path):
    path = tmp_path / "words.toml"
    path.write_text('[report]\nrep = "Rep {index.__class__}"\n', encoding="utf-8")
    with pytest.raises(SettingsError, match="cannot be put in"):
        load_words(path)
