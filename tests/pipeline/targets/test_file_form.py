"""In which forms one range may be written."""

from pathlib import Path

import pytest

from pipeline.core.errors import SettingsError
from pipeline.core.messages import shipped
from pipeline.core.toml_file import parse_toml
from pipeline.measures import MEASURES
from pipeline.targets.file import bound_keys, check_targets_file

START = 'set_by = "a coach"\nwhy = "practice"\n'


@pytest.mark.parametrize(
    ("table", "text", "line", "hint"),
    [
        ("throwback_pass.any.step_back_m", "high = 0.9", 4, "'open'"),
        ("throwback_pass.any.step_back_m", 'high = "open"\nhigh_m = 1', 5, "twice"),
        ("throwback_pass.any.step_back_m", "low_of_arm = 1\nlow_of_stature = 1", 5, "twice"),
        ("throwback_pass.any.step_back_m", "low_of_arm = 1.0\nhigh_m = 0.3", 4, "reversed"),
        ("throwback_pass.any.step_back_m", 'no_range = true\nlow = "open"', 3, "no_range"),
        ("throwback_pass.any.turn_away_deg", "low_of_arm = 1", 4, "low_deg"),
        ("throwback_pass.any.steps_back", "low_count = 1.5", 4, "valid integer"),
        ("close_gap_dodge.any.defender_arm_length_m", "low_of_arm = 1", 4, "low_m"),
    ],
)
def test_a_mistake_is_told_by_line(table, text, line, hint):
    file = parse_toml(Path("mine.toml"), f"{START}[{table}]\n{text}\n")
    with pytest.raises(SettingsError) as caught:
        check_targets_file(file)
    assert str(caught.value).startswith(f"mine.toml, line {line}")
    assert hint in str(caught.value)


def test_lengths_may_be_fractions_of_a_length_and_nothing_else():
    assert bound_keys(MEASURES["step_back_m"], "low") == (
        "low_m", "low_of_stature", "low_of_arm", "low",
    )  # fmt: skip
    assert bound_keys(MEASURES["steps_back"], "high") == ("high_count", "high")


@pytest.mark.parametrize(
    "text",
    ["low_m = 'x'", "low_m = inf", "low = 'x'", "no_range = 1", "set_by = ''", "why = 3"],
)
def test_what_is_wrong_with_a_value_is_said_in_spanish(text):
    file = parse_toml(Path("mine.toml"), f"{START}[throwback_pass.any.step_back_m]\n{text}\n")
    with pytest.raises(SettingsError) as caught:
        check_targets_file(file)
    assert "should" in str(caught.value)
    assert "should" not in caught.value.translate(shipped("es"))


@pytest.mark.parametrize("text", ["inside_level = 1.5", "outside_level = -1"])
def test_a_level_that_is_no_probability_is_said_in_spanish(text):
    with pytest.raises(SettingsError) as caught:
        check_targets_file(parse_toml(Path("mine.toml"), text))
    assert "should" in str(caught.value)
    assert "should" not in caught.value.translate(shipped("es"))
