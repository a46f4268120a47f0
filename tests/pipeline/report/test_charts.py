"""Charts: the range, the values, their intervals and the gaps lie where they should."""

from dataclasses import replace

import pytest

from pipeline.core.results import Measurement, TargetRange, Verdict
from pipeline.feedback.words import load_words
from pipeline.report.charts import BOTTOM, LEFT, RIGHT, TOP, chart_groups, chart_of

WORDS = load_words()
KEY = "hands_high_hold_s"


def held(analysis, values, *, low=0.1, high=0.4, key=KEY, unit="s"):
    """The reps of an analysis with these values (with 95 % interval) of one measure, judged."""
    target = TargetRange(
        key=key, unit=unit, low=low, high=high, words="", set_by="somebody", why="reasons"
    )
    reps = []
    for result, value in zip(analysis.reps, values, strict=True):
        if value is None:
            measurement = Measurement(key=key, unit=unit, reason="hidden")
        else:
            best, *interval = value
            measurement = Measurement(
                key=key, unit=unit, value=best, u=0.01, interval95=tuple(interval)
            )
        word = "not measured" if value is None else "in range"
        verdict = Verdict(
            key=key, word=word, side=None, probability_inside=None,
            target=None if low is high is None else target,
        )  # fmt: skip
        reps.append(replace(result, measurements={key: measurement}, verdicts=(verdict,)))
    return reps


def test_values_intervals_and_range_share_one_axis(analysis):
    values = [(0.2, 0.1, 0.3), (0.3, 0.25, 0.35), (0.1, 0.0, 0.2), (0.4, 0.3, 0.5)]
    chart = chart_of(WORDS, KEY, held(analysis, values))
    # From 0.0 to 0.5 with 8 % beyond: 0.58 s over 134 units.
    per_s = (BOTTOM - TOP) / 0.58

    def y(value):
        return pytest.approx(BOTTOM - (value + 0.04) * per_s, abs=0.06)

    assert [point.y for point in chart.points] == [y(0.2), y(0.3), y(0.1), y(0.4)]
    assert (chart.points[0].top, chart.points[0].bottom) == (y(0.3), y(0.1))
    assert chart.band[0] == y(0.4)
    assert chart.band[1] == pytest.approx(0.3 * per_s, abs=0.1)
    assert chart.edges == (y(0.1), y(0.4))
    assert [text for _, text in chart.y_ticks] == ["0", "0.2", "0.4"]
    quarter = (RIGHT - LEFT) / 4
    assert [point.x for point in chart.points] == pytest.approx(
        [LEFT + quarter * (i + 0.5) for i in range(4)]
    )
    assert [text for _, text in chart.x_ticks] == ["1", "2", "3", "4"]


def test_what_was_not_measured_is_a_gap_that_is_said(analysis):
    values = [(0.2, 0.1, 0.3), None, (0.1, 0.0, 0.2), None]
    chart = chart_of(WORDS, KEY, held(analysis, values))
    quarter = (RIGHT - LEFT) / 4
    assert chart.gaps == pytest.approx((LEFT + 1.5 * quarter, LEFT + 3.5 * quarter))
    assert len(chart.points) == 2
    assert chart.missing == "Not measured in reps 2 and 4."


def test_nothing_measured_is_no_chart(analysis):
    assert chart_of(WORDS, KEY, held(analysis, [None] * 4)) is None


@pytest.mark.parametrize(
    ("low", "high", "top", "bottom"), [(0.2, None, TOP, None), (None, 0.2, None, BOTTOM)]
)
def test_an_open_side_runs_to_the_edge_without_a_line_there(analysis, low, high, top, bottom):
    chart = chart_of(WORDS, KEY, held(analysis, [(0.2, 0.1, 0.3)] * 4, low=low, high=high))
    if top is not None:
        assert chart.band[0] == top
    else:
        assert sum(chart.band) == bottom
    assert len(chart.edges) == 1


def test_without_a_range_there_is_no_band_and_it_is_said(analysis):
    chart = chart_of(WORDS, KEY, held(analysis, [(0.2, 0.1, 0.3)] * 4, low=None, high=None))
    assert (chart.band, chart.edges) == (None, ())
    assert chart.range_words == "no range set"
    assert {point.shape for point in chart.points} == {"plain"}


def test_an_exact_range_can_be_seen_and_counts_have_whole_ticks(analysis):
    chart = chart_of(
        WORDS,
        "steps_back",
        held(analysis, [(1.0, 1.0, 1.0)] * 4, low=1.0, high=1.0, key="steps_back", unit="1"),
    )
    assert chart.band[1] >= 3.0
    assert [text for _, text in chart.y_ticks] == ["1"]
    assert chart.points[0].top == chart.points[0].bottom


def test_a_point_and_a_chart_say_all_of_it_in_words(analysis):
    chart = chart_of(WORDS, KEY, held(analysis, [(0.2, 0.1, 0.3)] * 3 + [None]))
    assert chart.points[0].label == "Rep 1: 0.20 s, give or take 0.10 s, in range"
    assert "Time with the hands held high over 4 reps, from 0.20 to 0.20" in chart.alt


def test_one_rep_needs_no_chart_and_each_move_has_its_own(make):
    assert chart_groups(WORDS, make(n_reps=1).reps) == []
    reps = make(n_reps=6).reps
    mixed = [replace(r, rep=replace(r.rep, move="unknown")) if r.rep.index > 3 else r for r in reps]
    groups = chart_groups(WORDS, mixed)
    assert [group.caption for group in groups] == [
        "High-to-low shot, 3 reps",
        "Unknown move, 3 reps",
    ]


def test_sixty_reps_still_have_marks_that_do_not_run_into_each_other(make):
    chart = chart_groups(WORDS, make(n_reps=60).reps)[0].judged[0]
    assert len(chart.points) + len(chart.gaps) == 60
    assert 2 * chart.mark <= 1.05 * (RIGHT - LEFT) / 60
    assert len(chart.x_ticks) <= 12
