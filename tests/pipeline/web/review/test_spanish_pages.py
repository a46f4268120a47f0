"""The pages of a coach who reads Spanish: nothing in English is left, whatever was kept before."""

import html
import io
import json
import re
import string

import pytest

from pipeline.core.catalogue import shipped_texts
from pipeline.web.review import job_worker
from tests.fixtures.reviewed import OWN, context_of, mark, page_of

PATHS = (
    "/", "/?kind=close", "/?kind=unknown", "/athletes", "/athlete/1", "/film", "/agreement",
    "/targets?move=throwback_pass&measure=step_back_m", "/targets?move=high_to_low_shot",
    "/cues", "/board", "/clip/1/rep/1", "/clip/1/rep/4", "/nowhere",
)  # fmt: skip
SECTIONS = ("review", "rep_view", "reasons", "measure", "verdicts", "numbers", "log", "errors")
TAGS = re.compile(r"<(script|style)\b.*?</\1>|<[^>]*>", re.DOTALL)
SHOWN = re.compile(
    r'(?:aria-label|title|placeholder|content|alt|data-sending|data-failed)="([^"]*)"'
)


def english_texts(node):
    """All parts of English texts that have more than three words."""
    if isinstance(node, dict):
        return {part for below in node.values() for part in english_texts(below)}
    if not isinstance(node, str):
        return set()
    parts = (literal.strip() for literal, *_ in string.Formatter().parse(node))
    return {part for part in parts if len(re.findall(r"[A-Za-z]+", part)) > 3}


ENGLISH = english_texts({name: shipped_texts("en")[name] for name in SECTIONS})


def shown(page):
    """What a page shows or says of itself, without its markup."""
    return html.unescape(" ".join([*SHOWN.findall(page), TAGS.sub(" ", page)]))


@pytest.fixture
def page(log, clip):
    return page_of(context_of(log, language="es"))


@pytest.mark.slow
@pytest.mark.parametrize("path", PATHS)
def test_no_page_holds_an_english_sentence(page, clip, path):
    mark(page, clip, kind="disagree", why="measured_wrong", measure="step_back_m")
    said = shown(page.get(path).text)
    assert len(said) > 100
    assert [text for text in ENGLISH if text in said] == []
    assert not re.search(r"\b(at least|at most|give or take|left|right|of stature)\b", said)


def test_a_mistake_is_told_in_spanish(page, clip):
    form = {"clip": 1, "number": 1, "version": 0, "kind": "disagree"}
    answer = page.post("/marks", data=form, headers=OWN)
    assert answer.status_code == 400
    assert "No se dijo qué está mal. Elige un motivo." in answer.text


def test_a_stature_is_typed_with_the_comma_that_is_shown(page):
    assert 'placeholder="1,80"' in page.get("/athletes").text
    page.post("/athletes", data={"name": "7", "stature": "1,62"}, headers=OWN)
    assert "1,62 m" in page.get("/athletes").text


def test_a_bound_is_typed_with_the_comma_that_is_shown(page):
    address = "/targets?move=throwback_pass&measure=plant_to_release_s"
    low = re.search(r'name="high" id="high"[^>]* value="([^"]*)"', page.get(address).text)[1]
    assert re.fullmatch(r"\d,\d+", low)


def test_long_work_that_fails_says_so_in_spanish(monkeypatch, capsys):
    told = json.dumps({"kind": "guess", "language": "es", "units": "metric"})
    monkeypatch.setattr("sys.stdin", io.StringIO(told))
    job_worker.main()
    assert json.loads(capsys.readouterr().out) == {"error": "Se cortó: KeyError: 'guess'."}
