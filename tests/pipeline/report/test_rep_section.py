"""One rep on the page: its strip shows the verdict on what is to be worked on."""

from dataclasses import replace

from pipeline.core.results import SessionPoint, SessionSummary
from pipeline.feedback.words import load_words
from pipeline.report.rep_section import rep_view

WORDS = load_words()


def view(analysis, i_rep=0, session=None):
    result = analysis.reps[i_rep]
    return rep_view(WORDS, result, None, scene=analysis.scene, session=session)


def working_on(key, move="high_to_low_shot"):
    return SessionSummary(work_on=SessionPoint(move=move, key=key, side="low", text="Text."))


def test_the_strip_shows_what_is_to_be_worked_on(analysis):
    first = view(analysis, session=working_on("hand_drop_m"))
    assert (first.about, first.mark, first.shape) == (
        "Drop of the top hand", "out of range, low", "out",
    )  # fmt: skip


def test_of_another_move_the_strip_shows_what_matters_most_there(analysis):
    first = view(analysis, session=working_on("step_back_m", "throwback_pass"))
    assert (first.about, first.shape) == ("Top hand height before the shot", "in")


def test_what_was_not_measured_is_counted_neither_in_nor_out(analysis):
    third = view(analysis, 2)
    assert (third.mark, third.shape) == ("not measured", "none")
    judged = [v for v in analysis.reps[2].verdicts if v.target]
    seen = [v for v in judged if v.word != "not measured"]
    assert 0 < len(seen) < len(judged)
    assert third.count.endswith(f" of {len(seen)} in range")


def test_a_rep_without_ranges_has_no_mark_to_show(analysis):
    result = replace(analysis.reps[0], verdicts=())
    bare = rep_view(WORDS, result, None, scene=analysis.scene, session=None)
    assert (bare.mark, bare.shape, bare.count) == ("no range set", "", "")
    assert bare.judged == ()
    assert len(bare.others) == len(result.measurements)
