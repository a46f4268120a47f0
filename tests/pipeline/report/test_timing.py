"""Timing: events of a rep on one clock that starts at the key event."""

from dataclasses import replace

import pytest

from pipeline.core.types import Event
from pipeline.feedback.words import load_words
from pipeline.report.timing import timings

WORDS = load_words()


def timed(analysis, *reps, move="high_to_low_shot"):
    """The first reps of an analysis with these events: name to time and standard uncertainty."""
    results = []
    for result, events in zip(analysis.reps, reps, strict=False):
        made = {
            name: Event(time_s=time_s, frame=0, u_s=u_s) for name, (time_s, u_s) in events.items()
        }
        results.append(replace(result, rep=replace(result.rep, move=move, events=made)))
    return results


SHOT = {
    "start": (1.0, 0.05), "hands_high": (1.5, 0.0), "release": (2.0, 0.1), "finish": (2.5, 0.2)
}  # fmt: skip


def test_reps_meet_at_the_key_event_however_late_they_are(analysis):
    later = {name: (time_s + 7.0, u_s) for name, (time_s, u_s) in SHOT.items()}
    (timing,) = timings(WORDS, timed(analysis, SHOT, later))
    first, second = timing.rows
    assert [mark.x for mark in first.marks] == [mark.x for mark in second.marks]
    high = first.marks[0]
    assert (high.name, high.x, high.sign) == ("hands_high", timing.zero, "diamond")
    assert first.seconds == ("-0.50", "+0.00", "+0.50", "+1.00")
    assert timing.events == ("start", "hands highest", "letting go", "finish")


def test_the_thick_bar_runs_from_the_fake_to_the_release(analysis):
    (timing,) = timings(WORDS, timed(analysis, SHOT))
    (row,) = timing.rows
    release = row.marks[1]
    assert row.counts == (timing.zero, release.x)
    # Start and finish are 0.5 s before and 1.0 s after: the release lies half way to the finish.
    assert release.x - timing.zero == pytest.approx(0.5 * (row.whole[1] - timing.zero), abs=0.1)
    assert timing.zero - row.whole[0] == pytest.approx(release.x - timing.zero, abs=0.1)
    per_s = (row.whole[1] - timing.zero) / 1.0
    assert release.stop - release.x == pytest.approx(1.96 * 0.1 * per_s, abs=0.1)


def test_an_event_that_was_not_found_leaves_an_empty_cell(analysis):
    hidden = {name: SHOT[name] for name in ("start", "hands_high", "finish")}
    (timing,) = timings(WORDS, timed(analysis, SHOT, hidden))
    assert timing.rows[1].seconds == ("-0.50", "+0.00", "", "+1.00")
    assert timing.rows[1].counts is None


def test_reps_without_the_key_event_are_left_out(analysis):
    assert timings(WORDS, timed(analysis, {"start": (0.0, 0.0), "finish": (1.0, 0.0)})) == []


def test_a_dodge_with_its_plant_alone_has_no_thick_bar(analysis):
    dodge = {"start": (0.0, 0.1), "dodge_start": (1.0, 0.0), "plant": (1.0, 0.0),
             "finish": (2.0, 0.2)}  # fmt: skip
    (timing,) = timings(WORDS, timed(analysis, dodge, move="close_gap_dodge"))
    assert [mark.name for mark in timing.rows[0].marks] == ["dodge_start"]
    assert timing.rows[0].counts is None
    assert "thick bar" not in timing.explanation
