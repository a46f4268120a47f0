import math

import pytest

from pipeline.core.errors import SettingsError
from pipeline.core.move_table import known_moves
from pipeline.measures import measures_of
from pipeline.settings.checks import LEVELS
from pipeline.targets.load import load_targets

SIGNED = 'set_by = "Coach of a made-up team"\nwhy = "what we practise"\n'


@pytest.fixture
def write(tmp_path):
    def write_file(text):
        path = tmp_path / "ranges.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write_file


def test_shipped_ranges_exist_for_every_move_and_level_and_say_where_they_are_from():
    targets = load_targets()
    assert (targets.inside_level, targets.outside_level) == (0.95, 0.05)
    for move in known_moves():
        for level in LEVELS:
            ranges = targets.for_athlete(move, level, 1.8)
            assert ranges
            assert set(ranges) <= {info.key for info in measures_of(move)}
            for range_ in ranges.values():
                assert range_.set_by == "shipped defaults"
                assert range_.why.startswith("common practice, no source")


def test_a_fraction_of_stature_becomes_metres_of_this_athlete():
    height = load_targets().for_athlete("high_to_low_shot", "youth", 1.50)[
        "hand_height_before_release_m"
    ]
    assert (height.low, height.high) == pytest.approx((1.41, 1.80))
    assert height.words == "0.94 to 1.2 of stature"
    assert height.unit == "m"


def test_without_a_stature_only_ranges_that_need_none_remain():
    ranges = load_targets().for_athlete("high_to_low_shot", "any", math.nan)
    assert "hand_drop_m" not in ranges
    assert "hands_high_hold_s" in ranges


def test_an_unknown_move_has_no_ranges():
    assert load_targets().for_athlete("unknown", "any", 1.8) == {}


def test_a_coach_overrides_measure_by_measure(write):
    path = write(SIGNED + "[throwback_pass.any.step_back_m]\nlow_m = 0.6\nhigh_m = 0.9\n")
    ranges = load_targets(path).for_athlete("throwback_pass", "college", 1.8)
    step = ranges["step_back_m"]
    assert (step.low, step.high, step.set_by) == (0.6, 0.9, "Coach of a made-up team")
    assert ranges["turn_away_deg"].set_by == "shipped defaults"


def test_a_level_inherits_from_any_and_is_stronger_than_it(write):
    text = SIGNED + (
        "[throwback_pass.youth.step_back_m]\nlow_m = 0.3\nhigh_m = 0.7\n"
        "[throwback_pass.any.step_back_m]\nlow_m = 0.6\nhigh_m = 0.9\n"
    )
    targets = load_targets(write(text))
    assert targets.for_athlete("throwback_pass", "youth", 1.5)["step_back_m"].low == 0.3
    assert targets.for_athlete("throwback_pass", "adult", 1.8)["step_back_m"].low == 0.6


def test_a_coach_can_switch_a_range_off(write):
    path = write(SIGNED + "[throwback_pass.any.turn_away_deg]\nno_range = true\n")
    assert "turn_away_deg" not in load_targets(path).for_athlete("throwback_pass", "any", 1.8)


def test_a_coach_can_change_the_levels_of_the_verdict(write):
    targets = load_targets(write("inside_level = 0.9\noutside_level = 0.1\n"))
    assert (targets.inside_level, targets.outside_level) == (0.9, 0.1)


RANGE = SIGNED + "[high_to_low_shot.any.hand_drop_m]\n"


@pytest.mark.parametrize(
    ("text", "line", "hint"),
    [
        (SIGNED + "[high_to_low_sot.any.hand_drop_m]\nlow_m = 1", 3, "high_to_low_shot"),
        (SIGNED + "[high_to_low_shot.yuoth.hand_drop_m]\nlow_m = 1", 3, "youth"),
        (SIGNED + "[high_to_low_shot.any.hand_dorp_m]\nlow_m = 1", 3, "hand_drop_m"),
        (RANGE + "# a remark\nlo_m = 1", 5, "low_m"),
        (RANGE + "high_m = 0.3\nlow_m = 0.9", 5, "reversed"),
        (RANGE + "low_of_stature = 0.9\nhigh_m = 0.3", 4, "reversed"),
        (RANGE + "low_deg = 20", 4, "in metres"),
        (RANGE + "low_cm = 20", 4, "low_m"),
        (SIGNED + "[throwback_pass.any.turn_away_deg]\nlow_of_stature = 1", 4, "low_deg"),
        (SIGNED + "[throwback_pass.any.steps_back]\nlow_ratio = 1", 4, "low_count"),
        (RANGE + 'low_m = "long"', 4, "valid number"),
        (RANGE + "low_m = nan", 4, "finite"),
        (RANGE + "low_m = true", 4, "valid number"),
        (RANGE + 'why = "no bounds"', 3, "low_m"),
        (RANGE + "low_m = 0.1\nlow_of_stature = 0.1", 4, "twice"),
        (RANGE + "low_m = 0.1\nno_range = true", 3, "no_range"),
        ("[high_to_low_shot.any.hand_drop_m]\nlow_m = 1", 1, "set_by"),
        ('set_by = "a coach"\n[high_to_low_shot.any.hand_drop_m]\nlow_m = 1', 2, "why"),
        (SIGNED + "inside_level = 1.5", 3, "probabilities"),
        (SIGNED + "inside_level = 0.2\noutside_level = 0.3", 3, "above"),
        (SIGNED + "high_to_low_shot = 3", 3, "table"),
        (SIGNED + "[high_to_low_shot]\nany = 3", 4, "table"),
        (SIGNED + "[high_to_low_shot.any]\nhand_drop_m = { low_s = 3 }", 4, "in metres"),
        (SIGNED + "low_m = = 3", 3, "TOML"),
    ],
)
def test_a_mistake_is_told_with_file_line_and_what_was_meant(write, text, line, hint):
    with pytest.raises(SettingsError) as caught:
        load_targets(write(text))
    message = str(caught.value)
    assert message.startswith(f"ranges.toml, line {line}")
    assert hint in message


def test_a_file_that_is_not_there_is_named(tmp_path):
    with pytest.raises(SettingsError, match=r"nowhere\.toml: cannot be read"):
        load_targets(tmp_path / "nowhere.toml")


def test_a_file_that_is_not_text_is_named(tmp_path):
    path = tmp_path / "film.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(SettingsError, match=r"film\.toml: cannot be read"):
        load_targets(path)
