"""Facts that a report shows of the film, the player and the ranges."""

from dataclasses import replace

import pytest

from pipeline.core.results import RangesUsed
from pipeline.feedback.words import load_words
from pipeline.report.page import render_page
from pipeline.report.summary import facts_of

WORDS = load_words()


def test_who_it_is_is_shown_and_never_as_markup(analysis):
    named = replace(analysis, athlete="<b>K. M.</b>")
    assert ("Player", "<b>K. M.</b>") in facts_of(WORDS, named)
    page = render_page(named, {})
    assert "&lt;b&gt;K. M.&lt;/b&gt;" in page
    assert "<b>K. M.</b>" not in page
    assert "Player" not in dict(facts_of(WORDS, analysis))


@pytest.mark.parametrize(
    ("used", "words"),
    [
        (RangesUsed(source="shipped", digest="0123456789ab", changed=None),
         "as shipped, version 0123456789ab"),
        (RangesUsed(source="coach", digest="0123456789ab", changed="2026-03-01T10:00:00Z"),
         "the coach's, version 0123456789ab, last changed 2026-03-01"),
    ],
)  # fmt: skip
def test_the_version_of_the_ranges_is_shown(analysis, used, words):
    assert dict(facts_of(WORDS, replace(analysis, ranges=used)))["Ranges"] == words
    assert words.replace("'", "&#39;") in render_page(replace(analysis, ranges=used), {})


def test_lost_frames_are_shown(analysis):
    assert "Lost frames" not in dict(facts_of(WORDS, analysis))
    lost = replace(analysis, clip=replace(analysis.clip, n_undecoded=3))
    assert dict(facts_of(WORDS, lost))["Lost frames"] == "3 could not be decoded"
