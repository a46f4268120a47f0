"""The queue: the surest and heaviest fault first, the rest apart, paged without losing a rep."""

from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select, update

from pipeline.feedback.words import load_words
from pipeline.log.review_priority import fill_flags, flag_of
from pipeline.log.schema import FLAGS, REPS
from pipeline.web.review.queue import Filters, counts, parse_after, parse_filters, queue_rows
from tests.fixtures.reviewed import judged, logged, rep_of


def numbers(log, after=None, n=20, **filters):
    with log.reading() as connection:
        return [row["number"] for row in queue_rows(connection, Filters(**filters), after, n=n)]


def test_the_surest_fault_comes_first_and_the_undecided_lie_apart(log, clip):
    assert numbers(log) == [2, 1]
    assert numbers(log, kind="close") == [3]
    assert numbers(log, kind="unknown") == [4]
    with log.reading() as connection:
        assert counts(connection, Filters()) == {"fault": 2, "close": 1, "unknown": 1}


def test_a_heavier_measure_outweighs_a_surer_one():
    result = judged(rep_of(1, step_back_m=0.2, plant_to_release_s=0.2))
    weight = {"step_back_m": 0.5, "plant_to_release_s": 1.0}
    kind, key, score = flag_of(result, lambda move, key: weight[key])
    assert (kind, key) == ("fault", "plant_to_release_s")
    assert 0.0 < score < 1.0


def test_a_fault_of_no_weight_is_not_brought_up():
    assert flag_of(judged(rep_of(1, step_back_m=0.2)), lambda move, key: 0.0) == ("none", None, 0.0)


@pytest.mark.slow
def test_a_rep_without_a_fault_is_not_in_the_queue(log, clip):
    with log.reading() as connection:
        kinds = connection.execute(select(FLAGS.c.kind).order_by(FLAGS.c.rep_id)).scalars().all()
    assert kinds == ["fault", "fault", "close", "unknown", "none"]


def test_filters_let_through_what_they_name(log, clip, write_film):
    other = [judged(rep_of(1, hand="left", step_back_m=0.3), inside=0.0)]
    logged(log, write_film("other.mp4", n_frames=13), other, athlete="A. B.")
    with log.reading() as connection:
        query = select(FLAGS.c.who).where(FLAGS.c.hand == "left")
        who = connection.execute(query).scalar()
    assert numbers(log, who=who) == [1]
    assert numbers(log, hand="right") == [2, 1]
    assert numbers(log, measure="step_back_m", hand="left") == [1]
    assert numbers(log, measure="cushion_m") == []
    assert numbers(log, move="roll_dodge") == []
    assert numbers(log, since=date(2999, 1, 1)) == []
    assert numbers(log, until=date(2999, 1, 1), hand="right") == [2, 1]


@pytest.mark.slow
@given(scores=st.lists(st.sampled_from([0.1, 0.25, 0.5, 0.9]), min_size=2, max_size=2))
@settings(max_examples=10, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_pages_hold_every_rep_once_in_order(log, clip, scores):
    with log.writing() as connection:
        ids = connection.execute(select(FLAGS.c.rep_id).where(FLAGS.c.kind == "fault")).scalars()
        for number, score in zip(ids.all(), scores, strict=True):
            connection.execute(update(FLAGS).where(FLAGS.c.rep_id == number).values(score=score))
    found, after = [], None
    for _ in range(3):
        with log.reading() as connection:
            rows = queue_rows(connection, Filters(), after, n=1)
        found += [(row["score"], row["id"]) for row in rows]
        after = found[-1]
    assert len(found) == 2
    assert found == sorted(found, reverse=True)


def test_flags_of_an_older_log_are_worked_out(log, clip):
    with log.writing() as connection:
        before = connection.execute(select(FLAGS).order_by(FLAGS.c.rep_id)).all()
        connection.execute(FLAGS.delete())
        assert fill_flags(connection, load_words().weight_of) == 5
        assert fill_flags(connection, load_words().weight_of) == 0
        assert connection.execute(select(FLAGS).order_by(FLAGS.c.rep_id)).all() == before


def test_a_rep_that_goes_takes_its_flag_along(log, clip):
    with log.writing() as connection:
        connection.execute(REPS.delete().where(REPS.c.number == 2))
    assert numbers(log) == [1]


@pytest.mark.parametrize("typed", ["", "x", "1", "nan,1", "inf,1", "0.5,-1", "0.5,1;drop", None])
def test_a_place_that_cannot_be_meant_is_the_start(typed):
    assert parse_after(typed) is None


def test_filters_that_cannot_be_meant_are_left_out():
    asked = {"kind": "x", "who": "1 or 1", "hand": "both", "since": "yesterday"}
    assert parse_filters(asked) == Filters()
