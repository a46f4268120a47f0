from dataclasses import replace
from itertools import pairwise

import pytest

from pipeline.commands.rep_table import NUMBERS_PER_REP, WIDTH, rep_table
from pipeline.core.move_table import known_moves
from pipeline.core.results import Measurement, RepResult, TargetRange, Verdict
from pipeline.core.types import Rep
from pipeline.feedback.words import load_words
from pipeline.measures import MEASURES, measures_of

WORDS = load_words()


def measured(key, value=1.234, u=0.05):
    return Measurement(
        key=key, unit=MEASURES[key].unit, value=value, u=u,
        interval95=(value - 2 * u, value + 2 * u),
    )  # fmt: skip


def judged(key, word="in range", side=None):
    target = TargetRange(
        key=key,
        unit=MEASURES[key].unit,
        low=1.0,
        high=None,
        words="at least 1",
        set_by="x",
        why="y",
    )
    return Verdict(key=key, word=word, side=side, probability_inside=0.5, target=target)


def result(move, *measurements, verdicts=(), **changes):
    rep = Rep(
        index=1, start_s=3.84, stop_s=5.11, start_frame=1, stop_frame=9, move=move,
        stick_hand="left", **changes,
    )  # fmt: skip
    return RepResult(
        rep=rep, measurements={m.key: m for m in measurements}, verdicts=tuple(verdicts),
        feedback=(), cautions=(),
    )  # fmt: skip


def test_no_reps_no_table():
    assert rep_table([], WORDS) == []


def test_a_rep_says_when_which_move_and_hand_and_its_numbers_with_their_doubt():
    step = measured("step_back_m", 0.62, 0.035)
    lines = rep_table(
        [result("throwback_pass", step, verdicts=[judged(step.key, "out of range", "high")])], WORDS
    )
    assert lines == [
        "rep  when          move            hand",
        "     measure                  number  give or take  verdict",
        "  1  3.8 to 5.1 s  throwback pass  left",
        "     Length of the step back  0.62 m  0.07 m        out of range, high",
    ]


def test_only_the_numbers_that_help_most_are_shown_and_the_judged_ones_before_all():
    infos = measures_of("high_to_low_shot")
    order = WORDS.order["high_to_low_shot"]
    lines = rep_table(
        [
            result(
                "high_to_low_shot",
                *(measured(info.key) for info in reversed(infos)),
                verdicts=[judged(key) for key in order],
            )
        ],
        WORDS,
    )
    shown = sorted(order, key=lambda key: -WORDS.weight_of("high_to_low_shot", key))
    text = "\n".join(lines)
    for key in (info.key for info in infos):
        assert (MEASURES[key].title in text) is (key in shown[:NUMBERS_PER_REP])


def test_what_was_not_measured_has_its_reason_and_no_number():
    hidden = Measurement(key="step_back_m", unit="m", reason="the feet were out of view")
    sideways = measured("step_back_sideways_m")
    lines = rep_table(
        [result("throwback_pass", hidden, sideways, verdicts=[judged(hidden.key, "not measured")])],
        WORDS,
    )
    assert lines[-1].strip() == (
        "Length of the step back. Not measured: the feet were out of view."
    )
    assert "1.2" not in "\n".join(lines)


def test_numbers_without_a_range_say_so():
    lines = rep_table([result("throwback_pass", measured("release_height_m"))], WORDS)
    assert lines[-1].endswith("no range set")


def test_a_move_that_nothing_is_measured_of_says_so():
    lines = rep_table([result("unknown", move_by="found", move_probability=0.4)], WORDS)
    assert "unknown move" in lines[1]
    assert "%" not in lines[1]
    assert lines[-1].strip() == "Nothing is measured in this move."


def test_a_move_that_the_program_named_says_how_sure_that_is():
    rep = result("split_dodge", move_by="found", move_probability=0.873)
    assert "split dodge (87% sure)" in rep_table([rep], WORDS)[1]


@pytest.mark.parametrize("move", known_moves())
def test_the_longest_names_fit_into_eighty_columns(move):
    keys = [info.key for info in measures_of(move)]
    for pair in pairwise(keys):
        wide = [measured(key, -1234.56, 123.4) for key in pair]
        verdicts = [judged(key, "out of range", "high") for key in pair]
        one = result(move, *wide, verdicts=verdicts, move_by="found", move_probability=1.0)
        late = replace(one, rep=replace(one.rep, index=1000, start_s=3599.9, stop_s=3605.1))
        lines = rep_table([one, late], WORDS)
        assert max(map(len, lines)) <= WIDTH
