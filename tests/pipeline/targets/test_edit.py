"""One range is changed, and everything else in the file stays as somebody wrote it."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.core.errors import SettingsError
from pipeline.core.toml_file import parse_toml
from pipeline.targets.edit import entry_in, with_entry
from pipeline.targets.entries import Scope

MOVE = "throwback_pass"
ANYONE = Scope(MOVE)
TEXT = """\
# ours
set_by = "a coach"  # me
why = "practice"

[throwback_pass.any.step_back_m]  # the step
low_m = 0.4   # short ones lose
# inner remark

# ---- Shots
[high_to_low_shot.any.hand_drop_m]
low_m = 1

[throwback_pass.any.turn_away_deg]
high_deg = 90

# the end
"""


def parsed(text):
    return parse_toml(Path("mine.toml"), text)


def edited(text, new, place=ANYONE, key="step_back_m"):
    return with_entry(parsed(text), place, key, new)


def test_a_number_is_changed_in_its_line():
    assert edited(TEXT, {"low_m": 0.5}) == TEXT.replace("low_m = 0.4", "low_m = 0.5")


def test_a_bound_is_added_before_the_remarks_on_what_comes_next():
    text = edited(TEXT, {"low_m": 0.4, "high_m": 0.9})
    assert text == TEXT.replace("# inner remark", "high_m = 0.9\n# inner remark")


def test_an_unchanged_range_leaves_the_text_as_it_is():
    assert edited(TEXT, {"low_m": 0.4}) == TEXT


def test_a_range_is_taken_out_and_remarks_stay():
    text = edited(TEXT, None)
    assert "step_back_m" not in text
    for remark in ("# ours", "# me", "# inner remark", "# ---- Shots", "# the end"):
        assert remark in text
    assert edited(text, None) == text


def test_a_new_range_goes_to_the_end():
    place = Scope(MOVE, "youth", "left", 'K. "M" é')
    text = edited(TEXT, {"low_m": 0.5, "why": 'a "why"'}, place)
    assert text.startswith(TEXT)
    assert entry_in(parsed(text), place, "step_back_m") == {"low_m": 0.5, "why": 'a "why"'}


def test_a_new_file_begins_with_what_it_is():
    assert edited("", {"low_m": 0.5}).startswith("# Target ranges of the coach")


def test_an_athlete_is_found_in_the_spelling_of_the_file():
    text = edited("", {"low_m": 0.5}, Scope(MOVE, athlete="Kim"))
    again = edited(text, {"low_m": 0.6}, Scope(MOVE, athlete=" KIM "))
    assert again == text.replace("0.5", "0.6")


def test_other_ways_to_write_it_are_changed_where_they_stand():
    dotted = "throwback_pass.any.step_back_m.low_m = 1\n"
    assert edited(dotted, {"low_m": 2}) == dotted.replace("1", "2")
    inline = "throwback_pass = {any = {step_back_m = {low_m = 1}}}\n"
    assert edited(inline, {"low_m": 2}) == inline.replace("1", "2")
    assert "low_m" not in edited(inline, None)


def test_what_cannot_be_changed_without_loss_is_left_and_told():
    inline = "throwback_pass = {any = {step_back_m = {low_m = 1}}}\n"
    with pytest.raises(SettingsError, match=r"mine\.toml, line 1.*table of its own"):
        edited(inline, {"high_deg": 90}, key="turn_away_deg")
    with pytest.raises(SettingsError, match="table of its own"):
        edited("throwback_pass.any.step_back_m.low_m = 1\n", None)


names = st.text(st.characters(exclude_categories=["C", "Z"]), min_size=1, max_size=8)
places = st.builds(
    Scope,
    st.just(MOVE),
    st.sampled_from(["any", "youth"]),
    st.sampled_from(["any", "left"]),
    st.one_of(st.just("any"), names),
)
tables = st.one_of(
    st.none(),
    st.dictionaries(
        st.sampled_from(["low_m", "high_m", "why"]), st.floats(0, 9) | names, min_size=1
    ),
)
changes = st.lists(
    st.tuples(places, st.sampled_from(["step_back_m", "turn_away_deg"]), tables), max_size=6
)


@pytest.mark.slow
@settings(max_examples=40, deadline=None)
@given(changes=changes)
def test_changes_touch_nothing_but_their_own_range(changes):
    text = TEXT
    for place, key, new in changes:
        before = parsed(text)
        others = {p: entry_in(before, p, k) for p, k, _ in changes if k != key}
        text = with_entry(before, place, key, new)
        after = parsed(text)
        assert entry_in(after, place, key) == new
        other = "turn_away_deg" if key == "step_back_m" else "step_back_m"
        assert {p: entry_in(after, p, other) for p in others} == others
        assert after.table["set_by"] == "a coach"
        assert after.table["high_to_low_shot"] == before.table["high_to_low_shot"]
    assert all(remark in text for remark in ("# ours", "# ---- Shots", "# the end"))
