"""Numbers by week, hand and side, limits, the watch list: from made-up days with known sums."""

from datetime import date, datetime, timedelta, timezone

import pytest

from pipeline.feedback.words import load_words
from pipeline.log.counts import COUNTED
from pipeline.log.limits import Limit, exceeded, in_force
from pipeline.log.trends import Drift
from pipeline.log.volume import Bout, Done, totals_of, volume_of
from pipeline.log.watch_list import balance_moved, watch_list
from pipeline.log.wording import watch_text

LAST = date(2026, 9, 28)
NOW = datetime(2026, 9, 1, 10, tzinfo=timezone.utc)
WORDS = load_words()


def done(back, throws, hand="right", source="counted", side=None, session=None, **more):
    counts = {**dict.fromkeys(COUNTED, 0), "throws": throws, **more}
    return Done(
        day=LAST - timedelta(days=back), session_id=back if session is None else session,
        source=source, hand=hand, side=side, counts=counts,
    )  # fmt: skip


def bout(back, minutes=60.0, exertion=5.0):
    day = LAST - timedelta(days=back)
    return Bout(session_id=back, day=day, minutes=minutes, exertion=exertion)


def volume(some, bouts, n_weeks=2, first_back=60):
    return volume_of(some, bouts, LAST, n_weeks, LAST - timedelta(days=first_back))


def test_numbers_are_told_by_hand_side_and_who_counted():
    totals = totals_of(
        [
            done(0, 10, "left", "filmed", "natural", shots=4),
            done(0, 20, "right", "filmed", "other"),
            done(1, 30, None, "estimated"),
        ]
    )
    assert totals.of("throws") == 60
    assert totals.estimated("throws") == 30
    assert totals.by_source["filmed"]["shots"] == 4
    assert [totals.by_hand[hand]["throws"] for hand in ("left", "right", None)] == [10, 20, 30]
    assert [totals.by_side[side]["throws"] for side in ("natural", "other", None)] == [10, 20, 30]
    assert totals.left_share().value == pytest.approx(1 / 3)
    assert totals_of([]).left_share().reason == "no_hands"


def test_a_week_is_seven_days_up_to_the_last_one():
    found = volume([done(0, 1), done(6, 10), done(7, 100), done(13, 1000), done(14, 10_000)], [])
    assert [week.totals.of("throws") for week in found.weeks] == [1100, 11]
    assert (found.week.first, found.week.last) == (LAST - timedelta(days=6), LAST)
    assert found.change.value == pytest.approx(11 / 1100 - 1)


def test_the_month_before_leaves_out_what_is_before_the_log():
    some = [done(0, 50), done(8, 100), done(15, 200)]
    assert volume(some, [], first_back=60).month["throws"] == 75
    assert volume(some, [], first_back=15).month["throws"] == 150
    assert volume(some, [], first_back=0).month is None


def test_load_and_days_off():
    found = volume([], [bout(0), bout(0, 30.0, 2.0), bout(3, 20.0, 10.0)]).week
    assert (found.n_sessions, found.n_days_off, found.minutes) == (3, 5, 110)
    assert found.load.value == 300 + 60 + 200


def test_a_session_of_unknown_length_leaves_the_load_open():
    found = volume([], [bout(0), bout(1, None)]).week
    assert found.load.reason == "no_exertion"
    assert (found.minutes, found.n_untimed) == (60, 1)


def test_nothing_in_the_log_is_said_as_such():
    found = volume_of([], [], LAST, 1, None)
    assert found.week.totals.of("throws") == 0
    assert found.month is None
    assert found.load.ratio.reason == "few_days"
    assert found.days_in_a_row == 0


def test_days_without_a_session_since_the_first_are_days_of_rest():
    found = volume([done(40, 100)], [bout(40)], first_back=40)
    assert found.throws.acute.value < 0.01
    assert found.load.ratio.value < 0.01


def limit(most, per="week", athlete_id=None, hand=None, counted="throws", by="the trainer"):
    return Limit(
        athlete_id=athlete_id, counted=counted, per=per, hand=hand, most=most, set_by=by,
        why="after a long pause", set_at=NOW,
    )  # fmt: skip


def test_the_newest_limit_holds_and_the_own_one_before_all():
    history = [limit(400), limit(300), limit(200, athlete_id=7), limit(90, "day")]
    assert [one.most for one in in_force(history, 7)] == [90, 200]
    assert [one.most for one in in_force(history, 8)] == [90, 300]
    assert [one.most for one in in_force([*history, limit(None, athlete_id=7)], 7)] == [90, 300]
    assert [one.most for one in in_force([*history, limit(None)], 8)] == [90]


def test_as_many_as_the_limit_is_not_too_many():
    assert exceeded([limit(30)], [done(0, 30)], LAST) == []
    assert exceeded([limit(30)], [done(0, 31)], LAST)[0].number == 31
    assert exceeded([limit(30)], [done(7, 31)], LAST) == []


def test_limits_are_per_session_day_and_week_and_by_hand():
    some = [
        done(0, 40, session=1),
        done(0, 40, session=2),
        done(1, 30, "left", "estimated", session=3),
    ]
    found = {
        (one.limit.per, one.limit.hand): (one.number, one.estimated)
        for one in exceeded(
            [limit(1, per) for per in ("session", "day", "week")] + [limit(1, hand="left")],
            some,
            LAST,
        )
    }
    assert found == {
        ("session", None): (40, 0), ("day", None): (80, 0), ("week", None): (110, 30),
        ("week", "left"): (30, 30),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("before", "now", "moved"),
    [
        ((100, 100), (50, 50), False),
        ((100, 100), (40, 60), False),  # ten points of a hundred may be chance
        ((500, 500), (200, 300), True),
        ((500, 500), (210, 300), False),  # nine points
        ((0, 400), (29, 0), False),  # fewer than thirty
        ((0, 400), (30, 0), True),
        ((0, 0), (50, 50), False),
    ],
)
def test_the_balance_moved_by_ten_points_and_more_than_chance(before, now, moved):
    both = [
        totals_of([done(0, left, "left"), done(0, right, "right")]) for left, right in (before, now)
    ]
    assert (balance_moved(*both) is not None) is moved


def watched(bouts, *, over=(), drifts=(), birth_year=2013, young=True):
    found = volume([], bouts)
    return watch_list(
        week=found.week, before=totals_of([]), days_in_a_row=found.days_in_a_row, over=over,
        drifts=drifts, birth_year=birth_year, young=young,
    )  # fmt: skip


def test_seven_days_without_rest_are_told_of_the_young():
    daily = [bout(i) for i in range(9)]
    (line,) = watched(daily)
    assert line.kind == "no_day_off"
    assert "9 days in a row" in watch_text(WORDS, line)
    assert watched(daily, young=False) == []
    assert watched([bout(i) for i in range(6)]) == []


def test_hours_are_held_against_the_age():
    assert watched([bout(i, 156.0) for i in range(5)]) == []  # 13 hours at 13
    (line,) = watched([bout(i, 157.0) for i in range(5)])
    assert line.kind == "hours"
    assert "13.1 hours" in watch_text(WORDS, line)
    assert "Jayanthi" in watch_text(WORDS, line)
    assert watched([bout(i, 157.0) for i in range(5)], birth_year=None) == []


def test_lines_say_numbers_rule_and_source():
    over = exceeded([limit(30, hand="left")], [done(0, 31, "left", "estimated")], LAST)
    drift = Drift(move="throwback_pass", key="step_back_m", n_sessions=4, early=0.62, late=0.51,
                  least=0.06)  # fmt: skip
    first, second = watched([], over=over, drifts=[drift])
    assert watch_text(WORDS, first) == (
        "31 throws in 7 days with the left hand up to 2026-09-28, over the limit of 30. The limit "
        "was set by the trainer on 2026-09-01: after a long pause (31 of the 31 were estimated, "
        "not counted.)"
    )
    text = watch_text(WORDS, second)
    assert "from 0.62 m in the first third of sessions to 0.51 m" in text
    assert "0.06 m could be chance" in text


def test_no_line_tells_of_what_will_happen_to_anybody():
    for name, sentence in WORDS.log.items():
        for word in ("will get hurt", "prone", "danger", "sweet spot"):
            assert word not in sentence, name


def test_of_weeks_before_the_first_entry_nothing_is_known():
    found = volume([], [], n_weeks=3, first_back=8)
    assert [week.in_log for week in found.weeks] == [False, True, True]
    assert not any(week.in_log for week in volume_of([], [], LAST, 3, None).weeks)
