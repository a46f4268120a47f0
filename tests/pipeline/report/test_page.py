import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from pipeline.feedback.words import load_words
from pipeline.report.page import render_page
from pipeline.report.pictures.rep_picture import encode_jpeg
from tests.fixtures.lenses import PHONE

VOID = {"meta", "img", "br", "link", "input", "hr"}


class Page(HTMLParser):
    """Tags, attributes and text of a page; fails on tags that do not close in order."""

    def __init__(self, html):
        super().__init__()
        self.tags, self.texts, self._open = [], [], []
        self.feed(html)
        assert self._open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self._open.pop() == tag

    def handle_data(self, data):
        if self._open and self._open[-1] != "style":
            self.texts.append(data)

    @property
    def text(self):
        return re.sub(r"\s+", " ", " ".join(self.texts))

    def all(self, tag):
        return [attrs for name, attrs in self.tags if name == tag]


@pytest.fixture
def picture():
    return encode_jpeg(np.full((20, 30, 3), 100, np.uint8))


def test_the_page_says_what_was_seen_and_what_to_try(analysis, picture):
    page = Page(render_page(analysis, {1: picture}))
    assert "evening practice 3.mp4" in page.text
    assert "4 reps of high-to-low shot found" in page.text
    for result in analysis.reps:
        for sentence in result.feedback:
            assert sentence in page.text
    for caution in analysis.cautions:
        assert page.text.count(caution.text) == 1
    for note in (*analysis.notes, *analysis.scene.notes):
        assert note in page.text
    assert "common practice, no source" in page.text


def test_the_page_stands_alone(analysis, picture):
    html = render_page(analysis, {1: picture})
    page = Page(html)
    for tag in ("script", "link", "iframe", "object"):
        assert page.all(tag) == []
    assert "http://" not in html
    assert "https://" not in html
    assert "url(" not in html
    assert "@import" not in html
    assert all(img["src"].startswith("data:image/jpeg;base64,") for img in page.all("img"))
    assert all(use["href"].startswith("#") for use in page.all("use"))


def test_pictures_have_words_and_tables_have_scoped_headers(analysis, picture):
    page = Page(render_page(analysis, {1: picture, 2: picture}))
    described = [img for img in page.all("img") if img["alt"]]
    assert len(described) == 2
    assert all(len(img["alt"]) > 20 for img in described)
    # Those in the strip are links whose text names what they show.
    assert len(page.all("img")) == 4
    assert all(header.get("scope") in ("col", "row") for header in page.all("th"))
    assert "No picture of this rep." in page.text


def test_every_verdict_has_its_word_and_its_shape(analysis):
    page = Page(render_page(analysis, {}))
    shapes = {use["href"] for use in page.all("use")}
    assert {"#in", "#out", "#close", "#none"} <= shapes
    assert shapes <= {"#" + symbol["id"] for symbol in page.all("symbol")}
    for word in ("in range", "out of range, low", "too close to call", "not measured"):
        assert word in page.text
    assert "hand hidden for 9 of 14 frames" in page.text


def test_what_is_written_by_others_is_not_markup(analysis):
    clip = replace(analysis.clip, path=analysis.clip.path.with_name("<script>alert(1)<.mp4"))
    odd = replace(analysis, clip=clip, notes=("<b>bold</b> & more",))
    page = Page(render_page(odd, {}))
    assert page.all("script") == []
    assert page.all("b") == []
    assert "<script>alert(1)<.mp4" in page.text


def test_a_clip_without_reps_is_a_page_too(make):
    page = Page(render_page(make(n_reps=0), {}))
    assert "No reps were found" in page.text
    assert page.all("table") == []


def test_every_word_over_the_session_table_comes_from_the_file_of_words(make):
    text = Page(render_page(make(n_reps=8), {})).text
    texts = load_words().session_table
    for name in ("heading", "measure", "mean", "spread", "in_range", "early", "late", "explained"):
        assert texts[name] in text


def test_one_rep_needs_no_table_over_all_reps(make):
    page = Page(render_page(make(n_reps=1), {}))
    assert "1 rep of high-to-low shot found" in page.text
    assert "All reps together" not in page.text


def test_many_reps_are_split_over_tables_that_fit_on_paper(make):
    page = Page(render_page(make(n_reps=12), {}))
    for caption in ("Reps 1 to 5", "Reps 6 to 10", "Reps 11 to 12"):
        assert caption in page.text


def test_a_single_frame_has_no_rate(make):
    page = Page(render_page(make(n_reps=0, n_frames=1), {}))
    assert "nan" not in page.text.lower()


def explained(analysis, sources):
    (result, *others) = analysis.reps
    measurements = {
        key: m if m.value is None else replace(m, sources=sources)
        for key, m in result.measurements.items()
    }
    return replace(analysis, reps=(replace(result, measurements=measurements), *others))


def test_without_an_explanation_nothing_is_said_of_sources(analysis):
    assert "unsure" not in Page(render_page(analysis, {})).text


def test_every_source_has_a_sentence_that_says_what_to_do(analysis):
    for source, sentence in {
        "keypoints": "film from nearer and in good light",
        "lens": "crossemetry calibrate lens",
        "scene": "both feet in view and the phone level",
        "stature": "to the centimetre, without shoes",
        "timing": "60 frames a second or more, from the side",
        "own": "compare several reps",
    }.items():
        text = Page(render_page(explained(analysis, {source: 0.1, "other": 0.05}), {})).text
        assert text.count("What makes these numbers unsure") == 1
        n_values = sum(m.value is not None for m in analysis.reps[0].measurements.values())
        assert text.count(sentence) == n_values + 1  # once more where it limits most of the numbers


def test_nobody_is_told_to_measure_a_lens_that_was_measured(analysis):
    known = replace(analysis, scene=replace(analysis.scene, lens=PHONE))
    text = Page(render_page(explained(known, {"lens": 0.1}), {})).text
    assert "although it was measured" in text
    assert "calibrate lens" not in text


def test_a_count_that_is_sure_needs_no_sentence(analysis):
    assert "unsure" not in Page(render_page(explained(analysis, {"lens": 0.0}), {})).text


def test_a_move_that_the_program_found_is_named_with_how_sure_it_is(analysis, picture):
    found = replace(
        analysis,
        move=None,
        reps=tuple(
            replace(r, rep=replace(r.rep, move_by="found", move_probability=0.93))
            for r in analysis.reps
        ),
    )
    text = render_page(found, {})
    assert "by the look of it (93% sure)" in text
    assert "reps (" in text
    assert "by the look of it" not in render_page(analysis, {})


def test_reps_of_different_moves_have_tables_of_their_own(analysis):
    half = len(analysis.reps) // 2
    other = tuple(
        replace(r, rep=replace(r.rep, move="unknown")) if r.rep.index <= half else r
        for r in analysis.reps
    )
    text = render_page(replace(analysis, move=None, reps=other), {})
    assert "Unknown move, reps" in text or half < 2
