"""The top of the page: one thing that went well, one to work on."""

from dataclasses import replace

from pipeline.core.results import SessionPoint, SessionSummary
from pipeline.feedback.words import load_words
from pipeline.report.summary import summary_blocks

WORDS = load_words()


def with_points(analysis, **parts):
    return replace(analysis, session=SessionSummary(**parts))


def point(side=None, key="hand_drop_m"):
    return SessionPoint(move="high_to_low_shot", key=key, side=side, text="All of it.")


def test_what_to_do_is_the_headline_of_what_to_work_on(analysis):
    blocks = summary_blocks(WORDS, with_points(analysis, went_well=point(), work_on=point("low")))
    assert [(b.style, b.headline) for b in blocks] == [
        ("well", "How far your hands dropped for the shot"),
        ("work", "Bring your top hand down to about your hip before you let go"),
    ]
    assert {block.text for block in blocks} == {"All of it."}


def test_what_is_wrong_on_both_sides_is_to_be_done_alike(analysis):
    _, work = summary_blocks(WORDS, with_points(analysis, went_well=point(), work_on=point(None)))
    assert work.headline == "Do it the same way every time"


def test_nothing_to_praise_and_nothing_to_change_are_said_as_such(analysis):
    well, work = summary_blocks(WORDS, with_points(analysis, work_on=point("low")))
    assert (well.headline, "clearly in range" in well.text) == ("", True)
    well, work = summary_blocks(WORDS, with_points(analysis, went_well=point()))
    assert (work.headline, "clearly out of range" in work.text) == ("", True)


def test_a_single_rep_says_what_is_said_of_it(make):
    analysis = make(n_reps=1)
    assert [block.text for block in summary_blocks(WORDS, analysis)] == list(
        analysis.reps[0].feedback
    )


def test_without_reps_there_is_nothing_to_say(make):
    assert summary_blocks(WORDS, make(n_reps=0)) == []
