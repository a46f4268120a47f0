"""Heights, drops, holds and speed of the hands, against numbers worked by hand."""

import numpy as np
import pytest

from pipeline.core.types import JOINTS
from pipeline.measures import hands
from pipeline.measures.view import NotMeasured
from tests.fixtures.views import motion_from, view_of

TIME_S = np.arange(121) / 100
RELEASE_S = 1.0


def at(x, y, z):
    return np.array([x, y, z], dtype=float)


def height(*corners):
    """Track (n, 3) at x = 1, y = 2 whose height is linear between (time, height) corners."""
    times, heights = zip(*corners, strict=True)
    return np.column_stack(
        [np.full(TIME_S.size, 1.0), np.full(TIME_S.size, 2.0), np.interp(TIME_S, times, heights)]
    )


# Up from 1.2 m at 0 s to 2.0 m at 0.4 s, held to 0.8 s, down to 1.2 m at the release and beyond.
LIFT = height((0.0, 1.2), (0.4, 2.0), (0.8, 2.0), (1.0, 1.2), (1.1, 0.8))


def shot(top=LIFT, bottom=None, *, hand="right", **changes):
    other = "left" if hand == "right" else "right"
    joints = {f"{hand}_hand": top, f"{other}_hand": top - [0, 0, 0.2] if bottom is None else bottom}
    joints |= {
        f"{side}_{part}": at(0.0, 2.0, z)
        for side in ("left", "right")
        for part, z in (("hip", 0.9), ("shoulder", 1.5), ("ear", 1.7))
    }
    joints["nose"] = at(0.0, 1.9, 1.7)
    return view_of(
        motion_from(TIME_S, joints), {"hands_high": 0.4, "release": RELEASE_S}, hand=hand, **changes
    )


@pytest.mark.parametrize("hand", ["left", "right"])
def test_height_before_the_release_is_the_highest_of_the_top_hand(hand):
    reading = hands.hand_height_before_release(shot(hand=hand))
    assert reading.values[0] == pytest.approx(2.0)
    assert reading.ends_m[:, 2] == pytest.approx([0.0, 2.0])
    assert reading.ends_m[:, 0] == pytest.approx([1.0, 1.0])


def test_what_the_hand_does_after_the_release_or_before_the_start_does_not_count():
    top = height((0.0, 3.0), (0.1, 1.2), (0.5, 1.8), (1.0, 1.0), (1.1, 3.0))
    assert hands.hand_height_before_release(shot(top, start_s=0.1)).values[0] == pytest.approx(1.8)


def test_the_hold_is_the_time_within_a_tenth_of_stature_of_the_top():
    # A tenth of 1.80 m is 0.18 m. Rising 2 m/s: 0.09 s before 0.4 s; falling 4 m/s: 0.045 s after
    # 0.8 s; between them 0.4 s.
    assert hands.hands_high_hold(shot()).values[0] == pytest.approx(0.535, abs=0.003)


def test_a_hand_that_only_touches_its_highest_point_is_held_briefly():
    top = height((0.0, 1.2), (0.5, 2.2), (1.0, 1.2))  # 2 m/s up and down: 2 * 0.09 s
    assert hands.hands_high_hold(shot(top)).values[0] == pytest.approx(0.18, abs=0.003)


def test_two_lifts_are_not_added_up():
    top = height((0.0, 1.2), (0.2, 1.9), (0.4, 1.2), (0.6, 2.2), (1.0, 1.2))
    # Up 5 m/s, down 2.5 m/s: 0.036 + 0.072 s about 0.6 s.
    assert hands.hands_high_hold(shot(top)).values[0] == pytest.approx(0.108, abs=0.003)


def test_drop_and_release_height():
    assert hands.release_height(shot()).values[0] == pytest.approx(1.2)
    assert hands.hand_drop(shot()).values[0] == pytest.approx(0.8)


def test_time_from_the_fake_to_the_release():
    assert hands.fake_to_release(shot()).values[0] == pytest.approx(0.6)


def test_speed_of_the_top_hand_is_the_greatest_about_the_release():
    # Falls by 4 m/s before and after the release; a faster move 0.6 s before it does not count.
    top = height((0.0, 3.0), (0.2, 1.2), (0.4, 2.0), (0.8, 2.0), (1.0, 1.2), (1.1, 0.8), (1.2, 0.4))
    assert hands.top_hand_speed(shot(top)).values[0] == pytest.approx(4.0)


def test_speed_takes_all_three_directions():
    top = LIFT.copy()
    top[:, 0] = 3.0 * TIME_S  # with 4 m/s down: 5 m/s
    assert hands.top_hand_speed(shot(top)).values[0] == pytest.approx(5.0)


def test_too_few_frames_about_the_release_are_a_reason():
    view = view_of(
        motion_from(np.array([0.0, 0.5, 1.0]), {"right_hand": at(0, 0, 1)}), {"release": 0.5}
    )
    with pytest.raises(NotMeasured, match="too few frames"):
        hands.top_hand_speed(view)


def test_hands_from_the_body_is_the_distance_to_the_trunks_axis():
    # Trunk upright at x = 0 from 0.9 to 1.5 m; bottom hand at x = 0.4, 1.2 m high.
    bottom = np.tile(at(0.4, 2.0, 1.2), (TIME_S.size, 1))
    assert hands.hands_from_body(shot(bottom=bottom)).values[0] == pytest.approx(0.4)
    # Above the shoulders by 0.3 m: the nearest point is the end of the axis, 3-4-5.
    bottom = np.tile(at(0.4, 2.0, 1.8), (TIME_S.size, 1))
    assert hands.hands_from_body(shot(bottom=bottom)).values[0] == pytest.approx(0.5)


@pytest.mark.parametrize(("nose_up_m", "pitch_deg"), [(0.0, 0.0), (0.1, 45.0), (-0.1, -45.0)])
def test_head_pitch_is_that_of_the_line_from_ears_to_nose(nose_up_m, pitch_deg):
    view = shot()
    nose = view.athlete.joint("nose")
    nose[..., 2] += nose_up_m
    assert hands.head_pitch_at_fake(view).values[0] == pytest.approx(pitch_deg)


def test_a_top_hand_hidden_while_the_hands_were_highest_is_a_reason():
    top = LIFT.copy()
    top[(TIME_S > 0.35) & (TIME_S < 0.8)] = np.nan
    for measure in (
        hands.hand_height_before_release,
        hands.hands_high_hold,
        hands.hand_drop,
    ):
        with pytest.raises(NotMeasured, match="hidden behind the body"):
            measure(shot(top, LIFT - [0, 0, 0.2]))


def test_a_top_hand_never_seen_is_a_reason():
    with (
        pytest.raises(NotMeasured, match="hidden before the release"),
        np.errstate(invalid="ignore"),
    ):
        hands.hand_height_before_release(shot(np.full_like(LIFT, np.nan), LIFT))


def test_a_top_hand_hidden_while_it_was_low_is_no_reason():
    top = LIFT.copy()
    top[TIME_S < 0.15] = np.nan
    view = shot(top, LIFT - [0, 0, 0.2])
    assert hands.hand_height_before_release(view).values[0] == pytest.approx(2.0)


def test_without_a_known_hand_nothing_of_the_hands_is_measured():
    view = view_of(shot().athlete, {"hands_high": 0.4, "release": 1.0}, hand=None)
    for measure in (hands.hand_height_before_release, hands.release_height, hands.top_hand_speed):
        with pytest.raises(NotMeasured, match="which hand"):
            measure(view)


def test_a_hand_lost_before_it_came_down_is_not_taken_for_one_held_high():
    top = LIFT.copy()
    top[TIME_S > 0.75] = np.nan  # the truth, 0.535 s, would come out longer
    with pytest.raises(NotMeasured, match="hidden"):
        hands.hands_high_hold(shot(top, LIFT - [0, 0, 0.2]))
    top = LIFT.copy()
    top[TIME_S < 0.1] = np.nan  # hidden while it was low: the hold is seen whole
    held = hands.hands_high_hold(shot(top, LIFT - [0, 0, 0.2]))
    assert held.values[0] == pytest.approx(0.535, abs=0.003)


# Down from 1.2 m to 0.7 m at 0.4 s, up to 1.9 m at 0.8 s, 1.7 m at the release; hips at 0.9 m.
DIP = height((0.0, 1.2), (0.4, 0.7), (0.8, 1.9), (1.0, 1.7), (1.1, 1.2))


def low_shot(top=DIP, low_s=0.4):
    view = shot(top)
    events_s = {"hands_low": low_s, "hands_high": 0.8, "release": RELEASE_S}
    return view_of(view.athlete, events_s, move="low_to_high_shot")


def test_the_dip_is_how_far_the_top_hand_goes_under_the_hips():
    assert hands.hand_dip(low_shot()).values[0] == pytest.approx(0.2)
    assert hands.hand_dip(low_shot(low_s=0.45)).values[0] == pytest.approx(0.2)


def test_a_dip_that_stays_above_the_hips_is_negative():
    assert hands.hand_dip(low_shot(DIP + np.array([0.0, 0.0, 0.5]))).values[0] == pytest.approx(
        -0.3
    )


def test_the_dip_counts_from_the_hips_as_they_are_then():
    view = low_shot()
    view.athlete.joints_m[:, 40, [JOINTS.index(f"{s}_hip") for s in ("left", "right")], 2] = 0.6
    assert hands.hand_dip(view).values[0] == pytest.approx(-0.1)


def test_the_lift_goes_from_the_lowest_to_the_highest_before_the_release():
    assert hands.hand_lift(low_shot()).values[0] == pytest.approx(1.2)
    later = DIP.copy()
    later[TIME_S > 1.0, 2] = 2.5
    assert hands.hand_lift(low_shot(later)).values[0] == pytest.approx(1.2)


def test_a_low_fake_is_timed_and_looked_at_at_its_lowest():
    view = low_shot()
    assert hands.fake_to_release(view).values[0] == pytest.approx(0.6)
    nose = view.athlete.joint("nose")
    nose[:, 30:50, 2] -= 0.1
    assert hands.head_pitch_at_fake(view).values[0] == pytest.approx(-45.0)


def test_a_top_hand_hidden_at_the_low_fake_is_a_reason():
    top = DIP.copy()
    top[30:50] = np.nan
    for measure in (hands.hand_dip, hands.hand_lift):
        with pytest.raises(NotMeasured, match="hidden while it was lowest"):
            measure(low_shot(top))
