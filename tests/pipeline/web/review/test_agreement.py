"""Agreement between coach and program: a number only where there is enough to tell one."""

from datetime import datetime, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.web.review.agreement import (
    FEWEST,
    JUDGED,
    Answer,
    agreement_of,
    by_month,
    read_answers,
)
from tests.fixtures.reviewed import OWN, mark

NOW = datetime(2026, 9, 1, tzinfo=timezone.utc)
OUT, IN = "out of range", "in range"


def answers(*counts):
    """(program, coach, how many) each."""
    return [
        Answer(measure="step_back_m", program=program, coach=coach, at=NOW)
        for program, coach, n in counts
        for _ in range(n)
    ]


def test_few_marks_tell_nothing():
    found = agreement_of(answers((OUT, OUT, FEWEST - 1)))
    assert (found.state, found.kappa, found.n) == ("few", None, FEWEST - 1)


def test_where_one_always_says_the_same_there_is_no_kappa():
    found = agreement_of(answers((OUT, OUT, 20), (OUT, IN, 10)))
    assert (found.state, found.n_same) == ("one_sided", 20)
    assert found.kappa is None


@pytest.mark.slow
def test_kappa_of_a_table_worked_by_hand():
    # Observed 35/50; by chance 25/50 * 30/50 + 25/50 * 20/50 = 0.5.
    found = agreement_of(answers((OUT, OUT, 20), (OUT, IN, 5), (IN, OUT, 10), (IN, IN, 15)))
    assert found.kappa == pytest.approx(0.4)
    assert found.low < 0.4 < found.high


@pytest.mark.slow
@given(counts=st.lists(st.integers(1, 30), min_size=4, max_size=4).filter(lambda c: sum(c) > 20))
def test_both_may_change_places_and_words(counts):
    pairs = [(OUT, OUT), (OUT, IN), (IN, OUT), (IN, IN)]
    one = agreement_of(answers(*((p, c, n) for (p, c), n in zip(pairs, counts, strict=True))))
    other = agreement_of(answers(*((c, p, n) for (p, c), n in zip(pairs, counts, strict=True))))
    swapped = agreement_of(
        answers(
            *(
                (JUDGED[1 - JUDGED.index(p)], JUDGED[1 - JUDGED.index(c)], n)
                for (p, c), n in zip(pairs, counts, strict=True)
            )
        )
    )
    for same in (other, swapped):
        assert same.kappa == pytest.approx(one.kappa)
        assert same.high == pytest.approx(one.high)
    assert -1.0 <= one.low <= one.kappa <= one.high <= 1.0


@pytest.mark.slow
def test_only_standing_answers_on_a_number_count(page, log, clip):
    mark(page, clip, measure="step_back_m")
    mark(page, clip, version=1, kind="disagree", why="measured_wrong", measure="step_back_m")
    mark(page, clip, number=2, kind="disagree", why="not_a_rep", measure="step_back_m")
    mark(page, clip, number=3, measure="step_back_m")
    mark(page, clip, number=5, kind="disagree", why="fine_here", measure="step_back_m")
    with log.reading() as connection:
        found = [(one.program, one.coach) for one in read_answers(connection)]
    assert found == [(OUT, IN), (IN, OUT)]
    page.post("/marks/undo", data={"mark": 2}, headers=OWN)
    with log.reading() as connection:
        found = [(one.program, one.coach) for one in read_answers(connection)]
    assert found == [(OUT, OUT), (IN, OUT)]


def test_the_page_says_that_it_is_too_early(page, clip):
    assert "No verdict was answered yet." in page.get("/agreement").text
    mark(page, clip, measure="step_back_m")
    assert "1 mark: too few to tell." in page.get("/agreement").text


def test_months_follow_each_other():
    early = Answer(measure="m", program=IN, coach=IN, at=datetime(2026, 8, 15, tzinfo=timezone.utc))
    assert list(by_month([*answers((IN, IN, 1)), early])) == ["2026-08", "2026-09"]


@pytest.mark.slow
def test_learning_is_asked_for_once(page, log, clip):
    assert page.post("/agreement/learn", data={}, headers=OWN).status_code == 303
    assert page.post("/agreement/learn", data={}, headers=OWN).status_code == 400
