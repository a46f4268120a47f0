"""The index of a run: one row for each clip, escaped, in both languages, without scripts."""

import json
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from pipeline.feedback.words import load_words
from pipeline.report.manifest import read_manifest
from pipeline.report.run_index import (
    FirstThing,
    IndexRow,
    first_of_all,
    index_page,
    index_row,
    row_of_document,
    summary_document,
    write_index,
)
from pipeline.report.summary import summary_blocks

WORDS = load_words()
STEP = FirstThing(
    text="Step back further.", headline="Longer", move="throwback_pass", key="step_back_m",
    side="low",
)  # fmt: skip
TURN = replace(STEP, key="turn_away_deg", side="high", headline="Turn less", text="Turn less now.")


def row(number, first=None, **changed):
    return IndexRow(
        clip=f"clip {number}.mp4", film=f"{number:064d}", folder=f"clip {number}", n_reps=3,
        found="3 reps", first=first, **changed,
    )  # fmt: skip


FAILED = IndexRow(clip="<script>x.mp4", error="<b>no</b> film & no sound")


def test_first_is_what_most_clips_name():
    assert first_of_all([]) is None
    assert first_of_all([row(1), FAILED, row(2, FirstThing(text="One rep."))]) is None
    chief = first_of_all([row(1, TURN), row(2, STEP), FAILED, row(3, replace(STEP, text="Again."))])
    assert (chief.first, chief.n_clips, chief.n_analysed) == (STEP, 2, 3)
    assert first_of_all([row(1, TURN), row(2, STEP)]).first == TURN


def test_the_row_says_what_the_report_says(analysis, tmp_path):
    made = index_row(analysis, tmp_path / "clip")
    work = [block for block in summary_blocks(WORDS, analysis) if block.style == "work"]
    if analysis.session.work_on is None:
        assert made.first is None
    else:
        assert (made.first.headline, made.first.text) == (work[0].headline, work[0].text)
    assert made.n_reps == len(analysis.reps)
    single = replace(analysis, reps=analysis.reps[:1], session=None)
    assert index_row(single, tmp_path).first.text == single.reps[0].feedback[-1]


def test_a_row_is_read_back_as_it_was():
    for one in (row(1, STEP, notes=("dark",), athlete="K. M."), FAILED):
        assert row_of_document(json.loads(json.dumps(one.document()))) == one
    with pytest.raises((KeyError, TypeError)):
        row_of_document({"clip": "x"})


class Tags(HTMLParser):
    def __init__(self, html):
        super().__init__()
        self.tags, self.texts = [], []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.texts.append(data)


def test_names_errors_and_notes_are_never_markup():
    notes = ("<img src=x>", "5 < 6 & 7")
    odd = replace(row(1, STEP, notes=notes, athlete="<u>"), clip="a <i>#1%.mp4", folder="a <i>#1%")
    page = Tags(index_page([odd, FAILED], WORDS))
    assert {tag for tag, _ in page.tags} & {"script", "img", "i", "b", "u", "link"} == set()
    assert [found["href"] for tag, found in page.tags if tag == "a"] == [
        "a%20%3Ci%3E%231%25/report.html"
    ]
    assert {"<script>x.mp4", "<b>no</b> film & no sound", *notes} <= set(page.texts)


@pytest.mark.parametrize(("language", "said"), [("en", "To do first"), ("es", "Lo primero")])
def test_the_page_is_in_the_readers_language(language, said):
    words = load_words(language=language)
    text = index_page([row(1, STEP), row(2), FAILED], words)
    assert f'<html lang="{language}">' in text
    assert text.count(said) == 2
    assert words.report["no_work"] in text
    assert words.text("run_index.failed") in text


def test_page_and_summary_are_recorded_with_whom_they_are_about(tmp_path):
    rows = [row(1, STEP, athlete="K. M."), row(2, athlete="K. M."), FAILED]
    write_index(rows, tmp_path, WORDS)
    write_index(rows, tmp_path, WORDS)
    summary = json.loads((tmp_path / "summary.json").read_text(encoding="utf-8"))
    assert summary == json.loads(json.dumps(summary_document(rows)))
    assert summary["schema"] == "crossemetry.summary/1"
    assert [clip["report"] for clip in summary["clips"]] == [
        "clip%201/report.html", "clip%202/report.html", None,
    ]  # fmt: skip
    known = read_manifest(tmp_path)
    assert set(known.entries) == {"index.html", "summary.json"}
    assert known.entries["index.html"].origin.athletes == ("K. M.",)
    assert len(known.entries["summary.json"].origin.films) == 2


@pytest.mark.parametrize("width_px", [390, 1280])
def test_the_page_fits_and_has_no_serious_fault_for_any_reader(chromium, tmp_path, width_px):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is missing")
    long = "x" * 90
    rows = [row(1, STEP, notes=("A long note. " * 9, long)), replace(FAILED, error=long)]
    rows.append(replace(row(2, STEP), clip=f"{long}.mp4"))
    context = chromium.new_context(viewport={"width": width_px, "height": 900})
    page = context.new_page()
    page.goto(write_index(rows, tmp_path, WORDS).as_uri())
    page.locator("summary").first.click()
    assert page.evaluate("document.documentElement.scrollWidth") <= width_px
    narrow = page.evaluate(
        "Math.min(...[...document.querySelectorAll('.clips tbody td')]"
        ".filter(cell => cell.textContent.trim().length > 20)"
        ".map(cell => cell.getBoundingClientRect().width))"
    )
    assert narrow > 200
    found = axe.Axe().run(page).response
    assert len(found["passes"]) > 10
    assert [one["id"] for one in found["violations"] if one["impact"] != "minor"] == []
    context.close()
