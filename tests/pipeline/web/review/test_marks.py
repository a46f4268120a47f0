"""Marks: kept with who and when, undone by a new row, and never lost to another window."""

import pytest
from sqlalchemy import select

from pipeline.log.marks import marks_for_report
from pipeline.log.schema import CLIPS, FLAGS, REVIEW_MARKS
from tests.fixtures.reviewed import OWN, context_of, logged, mark, page_of


def rows(log):
    with log.reading() as connection:
        return [dict(row) for row in connection.execute(select(REVIEW_MARKS)).mappings()]


def open_reps(log):
    with log.reading() as connection:
        query = select(FLAGS.c.rep_id).where(FLAGS.c.open.is_(True)).order_by(FLAGS.c.rep_id)
        return connection.execute(query).scalars().all()


@pytest.mark.slow
def test_a_mark_says_what_who_and_when_and_takes_the_rep_out_of_the_queue(page, log, clip):
    answer = mark(page, clip, measure="step_back_m", next="/?kind=fault")
    assert answer.status_code == 303
    assert answer.headers["location"] == "/?kind=fault&last=1"
    (row,) = rows(log)
    assert (row["kind"], row["by"], row["measure"]) == ("agree", "Coach K.", "step_back_m")
    assert row["program"] == "out of range"
    assert row["at"] is not None
    assert 1 not in open_reps(log)
    shown = page.get("/?last=1").text
    assert "Agreed on Length of the step back." in shown
    assert "Rep 2 of" in shown
    assert "Rep 1 of" not in shown


@pytest.mark.slow
@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ({"kind": "disagree", "why": "measured_wrong"}, {"why": "measured_wrong", "move": None}),
        ({"kind": "disagree", "why": "fine_here", "text": "short legs"}, {"text": "short legs"}),
        ({"kind": "disagree", "why": "other_move", "move": "roll_dodge"}, {"move": "roll_dodge"}),
        ({"kind": "disagree", "why": "not_a_rep", "move": "roll_dodge"}, {"move": None}),
        ({"kind": "note", "text": " good   one "}, {"text": "good one"}),
        ({"kind": "cue", "text": "Eyes up"}, {"text": "Eyes up"}),
    ],
)
def test_every_kind_of_mark_is_kept(page, log, clip, said, kept):
    assert mark(page, clip, **said).status_code == 303
    (row,) = rows(log)
    assert row["kind"] == said["kind"]
    assert {name: row[name] for name in kept} == kept
    assert (1 in open_reps(log)) == (said["kind"] in ("note", "cue"))


@pytest.mark.slow
@pytest.mark.parametrize(
    "said",
    [
        {"kind": ""}, {"kind": "undo"}, {"kind": "disagree"}, {"kind": "disagree", "why": "x"},
        {"kind": "disagree", "why": "other_move"}, {"kind": "note"}, {"kind": "note", "text": " "},
        {"kind": "disagree", "why": "other_move", "move": "x"}, {"number": 99}, {"clip": "a"},
        {"kind": "note", "text": "x" * 501}, {"kind": "note", "text": "a\x1bb"}, {"version": ""},
    ],
)  # fmt: skip
def test_what_cannot_be_meant_is_refused_and_nothing_is_kept(page, log, clip, said):
    assert mark(page, said.pop("clip", clip), **said).status_code == 400
    assert rows(log) == []


def test_undo_is_a_new_row_and_brings_the_rep_back(page, log, clip):
    mark(page, clip)
    answer = page.post("/marks/undo", data={"mark": 1, "next": "/"}, headers=OWN)
    assert answer.status_code == 303
    first, second = rows(log)
    assert first["kind"] == "agree"
    assert (second["kind"], second["undoes"]) == ("undo", 1)
    assert 1 in open_reps(log)
    page.post("/marks/undo", data={"mark": 1}, headers=OWN)
    assert len(rows(log)) == 2
    assert page.post("/marks/undo", data={"mark": 2}, headers=OWN).status_code == 400


@pytest.mark.slow
def test_the_second_window_gets_both_versions_and_loses_nothing(context, log, clip):
    one, other = page_of(context), page_of(context_of(log, by="Coach B."))
    mark(one, clip, kind="note", text="first words")
    answer = mark(other, clip, kind="note", text="second words")
    assert answer.status_code == 409
    assert "first words" in answer.text
    assert "second words" in answer.text
    assert [row["text"] for row in rows(log)] == ["first words"]
    assert 'name="version" value="1"' in answer.text
    mark(other, clip, version=1, kind="note", text="second words")
    assert [(row["text"], row["by"]) for row in rows(log)] == [
        ("first words", "Coach K."), ("second words", "Coach B."),
    ]  # fmt: skip


def test_marks_of_another_rep_do_not_make_a_window_stale(page, log, clip):
    mark(page, clip, number=2)
    assert mark(page, clip, number=1).status_code == 303


@pytest.mark.slow
def test_a_rep_that_was_answered_stays_so_when_the_film_is_analysed_again(
    page, log, clip, tmp_path
):
    mark(page, clip)
    logged(log, tmp_path / "film.mp4")
    assert len(open_reps(log)) == 4
    assert "Rep 1 of" not in page.get("/").text


def test_the_report_is_told_what_stands(page, log, clip):
    mark(page, clip, kind="note", text="look here")
    mark(page, clip, version=1, kind="cue", text="Eyes up")
    page.post("/marks/undo", data={"mark": 1}, headers=OWN)
    with log.reading() as connection:
        digest = connection.execute(select(CLIPS.c.file_digest)).scalar()
        found = marks_for_report(connection, digest)
    assert {number: [mark.text for mark in marks] for number, marks in found.items()} == {
        1: ["Eyes up"]
    }


@pytest.mark.slow
def test_cues_grow_and_shrink_and_are_offered(page, log):
    for text in ("Eyes up", "eyes up", "Longer step"):
        page.post("/cues", data={"text": text}, headers=OWN)
    shown = page.get("/").text
    assert shown.count("<option>Eyes up</option>") == 4 // 2
    page.post("/cues", data={"take_out": 1}, headers=OWN)
    assert "<option>Eyes up</option>" not in page.get("/").text
    assert "<option>Longer step</option>" in page.get("/").text


@pytest.mark.slow
def test_the_players_report_says_what_the_coach_said_and_forgets_what_was_undone(
    page, log, clip, tmp_path
):
    results = tmp_path / "results"
    results.mkdir()
    report = results / "report.html"
    report.write_text("<p>a</p><!-- coach: begin --><!-- coach: end --><p>b</p>")
    with log.writing() as connection:
        connection.execute(CLIPS.update().values(results_path=str(results)))
    mark(page, clip, kind="cue", text="Eyes <b>up</b> <!-- coach: end -->")
    mark(page, clip, version=1, kind="disagree", why="fine_here", measure="step_back_m")
    told = report.read_text()
    assert "Your coach says" in told
    assert "Eyes &lt;b&gt;up" in told
    assert "Length of the step back: It is fine for this player." in told
    assert told.count("<!--") == 2
    for number in (1, 2):
        page.post("/marks/undo", data={"mark": number}, headers=OWN)
    assert report.read_text() == "<p>a</p><!-- coach: begin --><!-- coach: end --><p>b</p>"


def test_a_report_that_cannot_be_written_does_not_lose_the_mark(page, log, clip, tmp_path):
    (tmp_path / "results" / "report.html").mkdir(parents=True)
    with log.writing() as connection:
        connection.execute(CLIPS.update().values(results_path=str(tmp_path / "results")))
    assert mark(page, clip, kind="note", text="kept").status_code == 303
    assert rows(log)[0]["text"] == "kept"
