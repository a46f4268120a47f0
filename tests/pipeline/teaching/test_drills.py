"""A drill taught by examples is found again: later, mirrored, larger, quicker; and nothing else."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.moves.body_frame import mirrored
from pipeline.teaching.drill_examples import (
    agreement,
    event_disagreement_s,
    examples_from,
    nearest_other,
)
from pipeline.teaching.drill_features import COLUMNS, RATE_HZ, SHARES
from pipeline.teaching.drills import find_drill
from tests.fixtures.drilling import (
    BEFORE_S,
    RELEASES_S,
    WINDOWS_S,
    drill_of,
    drill_player,
    film_of,
    frame_of,
)
from tests.fixtures.players import dodger, frames_s, jogger, passer

FRAME = frame_of(drill_player())[0]
DRILL = drill_of(FRAME)
OTHER_S = (2.5, 6.0, 9.5)


def found_in(frame, drill=DRILL):
    return find_drill(drill, *film_of(frame))


def releases_s(found):
    return [one.events_s["release"] for one in found]


def test_its_own_reps_are_found_with_their_windows_and_events():
    found = found_in(FRAME)
    assert [(one.start_s, one.stop_s) for one in found] == [
        pytest.approx(window_s, abs=0.1) for window_s in WINDOWS_S
    ]
    assert releases_s(found) == pytest.approx(RELEASES_S, abs=0.05)
    assert {one.side for one in found} == {"same"}
    assert all(one.distance < 0.5 * DRILL.reach for one in found)


@pytest.mark.slow
@given(later_s=st.floats(0.0, 50.0), taller=st.floats(0.6, 1.4))
@settings(max_examples=4, deadline=None)
def test_time_of_filming_and_size_change_nothing_but_the_times(later_s, taller):
    found = found_in(frame_of(drill_player(), later_s=later_s, taller=taller)[0])
    here = found_in(FRAME)
    assert len(found) == len(here)
    for one, other in zip(here, found, strict=True):
        # The figure stands exactly still before a rep: where it starts is open by a sample.
        assert other.start_s == pytest.approx(one.start_s + later_s, abs=1.1 / RATE_HZ)
        assert other.distance == pytest.approx(one.distance, abs=1e-4)


def test_a_mirror_image_has_the_same_reps_with_the_sides_exchanged():
    found, image = found_in(FRAME), found_in(mirrored(FRAME))
    assert [one.start_s for one in image] == [one.start_s for one in found]
    assert [one.distance for one in image] == pytest.approx([one.distance for one in found])
    assert {one.side for one in image} == {"mirrored"}


def test_the_other_hand_is_found_by_its_mirror_image():
    found = found_in(frame_of(drill_player("left", OTHER_S))[0])
    assert {one.side for one in found} == {"mirrored"}
    assert releases_s(found) == pytest.approx(OTHER_S, abs=0.06)


@pytest.mark.parametrize("faster", [0.8, 1.2])
def test_a_fifth_quicker_or_slower_is_still_the_drill(faster):
    found = found_in(frame_of(drill_player(), faster=faster)[0])
    assert releases_s(found) == pytest.approx(np.array(RELEASES_S) / faster, abs=0.08)


@pytest.mark.parametrize("player", [jogger(frames_s(9.0)), dodger(frames_s(14.0))])
def test_what_is_something_else_is_not_found(player):
    assert found_in(frame_of(player)[0]) == []


def test_a_pass_after_a_run_is_no_standing_throw_twice():
    assert len(found_in(frame_of(passer(frames_s(6.5)))[0])) <= 1


def test_one_rep_is_found_once():
    found = found_in(FRAME)
    assert all(a.stop_s <= b.start_s + 0.5 for a, b in pairwise(found))


def test_an_example_done_the_other_way_round_is_turned_to_the_side_of_the_first():
    film = film_of(FRAME)
    straight = examples_from(film, WINDOWS_S, {})
    turned = examples_from((film[1], film[0]), WINDOWS_S, {})
    assert all(
        np.allclose(one.values, other.values)
        for one, other in zip(examples_from(film, WINDOWS_S[:1], {}), straight[:1], strict=True)
    )
    assert nearest_other(turned) == pytest.approx(nearest_other(straight))


def test_events_marked_further_apart_are_less_sure():
    examples = DRILL.examples
    moved = [
        replace(example, events={"release": example.events["release"] + shift})
        for example, shift in zip(examples, (-3.0, 3.0, -3.0, 3.0), strict=True)
    ]
    assert event_disagreement_s(moved, "release") > 2 * event_disagreement_s(examples, "release")
    assert event_disagreement_s(examples, "release") < 0.05


def test_what_the_examples_disagree_on_counts_less():
    shaken = []
    columns = [i for i, name in enumerate(COLUMNS) if name == "hand_up"]
    for example, off in zip(DRILL.examples, (-0.4, 0.4, -0.4, 0.4), strict=True):
        values = example.values.copy()
        values[:, columns] += off
        shaken.append(replace(example, values=values))
    film = [film_of(FRAME)[0].values]
    before, after = agreement(DRILL.examples, film), agreement(shaken, film)
    assert (after[columns] < 0.7 * before[columns]).all()
    for factors in (before, after):
        assert np.sum(factors**2 * SHARES) == pytest.approx(1.0)
        pair = [i for i, name in enumerate(COLUMNS) if name == "hand_up"]
        assert factors[pair[0]] == factors[pair[1]]


def test_a_clip_shorter_than_the_drill_has_none():
    short = drill_player()
    frame = frame_of(short)[0]
    n = round(60 * (RELEASES_S[0] - BEFORE_S - 0.2))
    cut = type(frame)(
        time_s=frame.time_s[:n],
        joints=frame.joints[:n],
        velocity=frame.velocity[:n],
        turn_rad=frame.turn_rad[:n],
        hip_height=frame.hip_height[:n],
    )
    assert found_in(cut) == []
