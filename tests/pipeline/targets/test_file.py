"""A file of ranges by level, hand and athlete, and what is said of a wrong name in it."""

from pathlib import Path

import pytest

from pipeline.core.errors import SettingsError
from pipeline.core.toml_file import parse_toml
from pipeline.targets.entries import Bound, Scope
from pipeline.targets.file import check_targets_file, keys_of

SIGNED = 'set_by = "a coach"\nwhy = "practice"\n'
MOVE = "throwback_pass"


def read(text):
    return check_targets_file(parse_toml(Path("mine.toml"), SIGNED + text))


def test_every_place_is_read():
    entries = read(
        f"[{MOVE}.any.step_back_m]\nlow_m = 0.1\n"
        f"[{MOVE}.youth.left.step_back_m]\nlow_of_stature = 0.2\n"
        f'[athlete."K. M.".{MOVE}.any.step_back_m]\nlow_of_arm = 0.3\nhigh = "open"\n'
        f"[athlete.7.{MOVE}.adult.right.step_back_m]\nno_range = true\n"
    ).entries
    assert {place: entry.low for (place, _), entry in entries.items()} == {
        Scope(MOVE): Bound(value=0.1),
        Scope(MOVE, "youth", "left"): Bound(value=0.2, scale="of_stature"),
        Scope(MOVE, athlete="k. m."): Bound(value=0.3, scale="of_arm"),
        Scope(MOVE, "adult", "right", "7"): None,
    }
    named = entries[Scope(MOVE, athlete="k. m."), "step_back_m"]
    assert named.high == Bound(value=None)
    assert named.keys == ("athlete", "K. M.", MOVE, "any", "step_back_m")


@pytest.mark.parametrize(
    ("text", "line", "hint"),
    [
        (f"[{MOVE}.any.lefft.step_back_m]\nlow_m = 1", 3, "left"),
        (f"[{MOVE}.any.left.step_bak_m]\nlow_m = 1", 3, "step_back_m"),
        (f"[{MOVE}.any.left]\nstep_back_m = 1", 4, "table"),
        (f"[athletes.7.{MOVE}.any.step_back_m]\nlow_m = 1", 3, "athlete"),
        ("[athlete.7.throwbak_pass.any.step_back_m]\nlow_m = 1", 3, "throwback_pass"),
        (f"[athlete.7.{MOVE}.yuoth.step_back_m]\nlow_m = 1", 3, "youth"),
        (f"[athlete.7.{MOVE}.any.step_back_m]\nlo_m = 1", 4, "low_m"),
        (f'[athlete." ".{MOVE}.any.step_back_m]\nlow_m = 1', 3, "not a name"),
        (f'[athlete."\\u001b[2J".{MOVE}.any.step_back_m]\nlow_m = 1', 3, "not a name"),
        (f"[athlete.any.{MOVE}.any.step_back_m]\nlow_m = 1", 3, "not a name"),
        ("athlete = 7", 3, "table"),
        (
            f"[athlete.kim.{MOVE}.any.steps_back]\nlow_count = 1\n"
            f"[athlete.Kim.{MOVE}.any.step_back_m]\nlow_m = 1",
            5,
            "the same athlete as kim",
        ),
    ],
)
def test_a_wrong_name_is_told_with_its_line_and_the_nearest_right_one(text, line, hint):
    with pytest.raises(SettingsError) as caught:
        read(text)
    assert str(caught.value).startswith(f"mine.toml, line {line}")
    assert hint in str(caught.value)


def test_keys_of_a_place():
    assert keys_of(Scope(MOVE), "step_back_m") == (MOVE, "any", "step_back_m")
    full = keys_of(Scope(MOVE, "youth", "left", "7"), "step_back_m", athlete="Seven")
    assert full == ("athlete", "Seven", MOVE, "youth", "left", "step_back_m")
