"""One rep on the page: its strip shows the verdict that matters most in it."""

from dataclasses import replace

from pipeline.feedback.words import load_words
from pipeline.report.rep_section import rep_view

WORDS = load_words()


def view(analysis, i_rep=0):
    return rep_view(WORDS, analysis.reps[i_rep], None, scene=analysis.scene)


def test_the_strip_shows_what_matters_most_in_the_rep(analysis):
    first = view(analysis)
    assert (first.about, first.mark, first.shape) == (
        "Drop of the top hand", "out of range, low", "out",
    )  # fmt: skip


def test_what_was_not_measured_is_counted_neither_in_nor_out(analysis):
    third = view(analysis, 2)
    assert (third.mark, third.shape) == ("out of range, high", "out")
    judged = [v for v in analysis.reps[2].verdicts if v.target]
    seen = [v for v in judged if v.word != "not measured"]
    assert 0 < len(seen) < len(judged)
    assert third.count.endswith(f" of {len(seen)} in range")


def test_a_rep_without_ranges_has_no_mark_to_show(analysis):
    result = replace(analysis.reps[0], verdicts=())
    bare = rep_view(WORDS, result, None, scene=analysis.scene)
    assert (bare.mark, bare.shape, bare.count) == ("no range set", "", "")
    assert bare.judged == ()
    assert len(bare.others) == len(result.measurements)
