"""The whole report in the language and the units of its reader."""

import re
from dataclasses import replace
from html import unescape
from pathlib import Path

import pytest

from pipeline.core.messages import message
from pipeline.feedback.clip_feedback import clip_feedback
from pipeline.feedback.words import load_words
from pipeline.report.page import render_page
from tests.pipeline.feedback.test_clip_feedback_in_languages import english_parts

NOTES = (
    message("scene.by_athlete", height=1.2, half_width=0.041),
    message("check.rate", rate=30.0, instant=33.3, hand="", uneven=""),
    message("film.seldom_found", share=0.8),
)


def read_in(analysis, language, units):
    """The same clip, in another language and other units."""
    hidden = message("reasons.hand_hidden_before")
    reps = [
        replace(
            result,
            measurements={
                key: m if m.reason is None else replace(m, reason=hidden)
                for key, m in result.measurements.items()
            },
        )
        for result in analysis.reps
    ]
    words = load_words(language=language, units=units)
    feedback = clip_feedback(reps, stature_m=1.8, defender_in_view=True, words=words)
    return replace(
        analysis,
        reps=feedback.reps,
        session=feedback.session,
        cautions=feedback.cautions,
        scene=replace(analysis.scene, notes=NOTES[:1]),
        notes=(*NOTES[1:], *feedback.notes),
        language=language,
        units=units,
    )


def text_of(page):
    """What is read on the page, and what is read aloud of its drawings."""
    body = page.partition("</style>")[2]
    labels = re.findall(r'(?:aria-label|alt)="([^"]*)"', body)
    return unescape(" ".join([re.sub(r"<[^>]+>", " ", body), *labels]))


@pytest.mark.slow
@pytest.mark.parametrize("move", ["high_to_low_shot", "throwback_pass", "close_gap_dodge"])
def test_in_spanish_no_english_text_is_left_on_the_page(make, move):
    page = render_page(read_in(make(move=move), "es", "feet"), {})
    assert '<html lang="es">' in page
    text = re.sub(r"\s+", " ", text_of(page)).lower()
    left = [
        (place, part)
        for place, part in english_parts()
        if re.search(rf"(?<!\w){re.escape(part.lower())}(?!\w)", text)
    ]
    assert left == []
    assert not re.search(r"\d (m|cm|m/s)\b", text)
    assert not re.search(r"\d\.\d", text.replace("0.1.0", ""))


def test_in_english_the_page_says_so_and_english_is_found(make):
    page = render_page(read_in(make(), "en", "metric"), {})
    assert '<html lang="en">' in page
    text = re.sub(r"\s+", " ", text_of(page)).lower()
    assert sum(part.lower() in text for _, part in english_parts()) > 40


def test_axes_and_tables_are_in_feet(make):
    page = render_page(read_in(make(), "en", "feet"), {})
    text = text_of(page)
    assert "Top hand height before the shot <small>(ft)</small>" in page
    assert re.search(r"\d ft \d+ in", text)
    metric = text_of(render_page(read_in(make(), "en", "metric"), {}))
    assert "Top hand height before the shot (m)" in re.sub(r"\s+", " ", metric)


@pytest.mark.parametrize(("language", "units"), [("en", "metres"), ("es", "feet")])
def test_the_whole_report_reads_as_kept(make, language, units):
    """After an intended change of words: delete the file, run this twice, read the difference."""
    page = render_page(read_in(make(), language, units), {})
    lines = [" ".join(part.split()) for part in re.split(r"(?<=[.?!:]) |\n|  +", text_of(page))]
    text = "\n".join(line for line in lines if line) + "\n"
    kept = Path(__file__).parent / f"report.{language}.txt"
    if not kept.exists():
        kept.write_text(text, encoding="utf-8")
        pytest.fail(f"{kept.name} was written anew")
    assert text.splitlines() == kept.read_text(encoding="utf-8").splitlines()
