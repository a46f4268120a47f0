from dataclasses import replace

import pytest

from pipeline.feedback.words import load_words
from pipeline.report.page import render_page
from pipeline.report.session_section import session_section

WORDS = load_words()


def test_the_table_says_mean_spread_thirds_and_change_in_words(make):
    section = session_section(WORDS, make(n_reps=8).session)
    (table,) = section.tables
    assert (table.caption, table.has_thirds) == ("High-to-low shot, 8 reps", True)
    rows = {row.title: row for row in table.rows}
    drop = rows["Drop of the top hand"]
    assert drop.mean.startswith("0.53 m, give or take 0.0")
    assert drop.spread == "0.13 m"
    assert (drop.early, drop.late) == ("0.46 m", "0.59 m")
    assert drop.change == "no clear change"
    assert drop.two_reps.startswith("two reps: 0.")
    assert drop.needs.startswith("needs 0.")
    assert drop.in_range == "6 of 8"
    assert rows["Top hand height when letting go"].in_range == "no range set"


def test_few_reps_are_said_to_be_too_few(make):
    (table,) = session_section(WORDS, make(n_reps=3).session).tables
    assert not table.has_thirds
    assert {row.change for row in table.rows} == {"too few reps"}


@pytest.mark.parametrize("n_reps", [0, 1])
def test_a_single_rep_has_no_section(make, n_reps):
    analysis = make(n_reps=n_reps)
    assert session_section(WORDS, analysis.session) is None
    assert "The session" not in render_page(analysis, {})
    assert session_section(WORDS, None) is None


def test_a_spread_that_is_all_noise_is_shown_as_such(make):
    session = make(n_reps=4).session
    (move,) = session.moves
    measure = replace(move.measures[0], spread=0.02, noise=0.03, own_spread=None)
    odd = replace(session, moves=(replace(move, measures=(measure,)),))
    (row,) = session_section(WORDS, odd).tables[0].rows
    assert row.spread == "0.02 m, the measuring included"


def test_the_section_stands_after_the_reps_and_before_all_numbers(make):
    analysis = make(n_reps=8)
    html = render_page(analysis, {})
    places = [
        html.index(text)
        for text in ("Before the next rep", "Rep 8 <", "The session", "All reps together")
    ]
    assert places == sorted(places)
