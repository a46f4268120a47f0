"""Whatever others wrote stays text: no element and no attribute comes of it."""

from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from pipeline.core.files import VARIABLE
from pipeline.core.results import FieldSide, GroundPath, Walk
from pipeline.feedback.words import load_words
from pipeline.report.page import render_page
from pipeline.report.pictures.rep_picture import encode_jpeg

NASTY = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "'><svg onload=alert(1)>",
    "</style><script>alert(1)</script>",
    "</title><b>bold</b>",
    "{{ 7 * 7 }}{% raw %}",
    "1 & b &lt;i&gt;",
]
WALK = Walk(time_s=np.arange(3.0), hips_m=np.array([[0.0, 8.0], [1, 8], [2, 9]]), contacts=())


class Elements(HTMLParser):
    """Elements with the names of their attributes, and all text."""

    def __init__(self, html):
        super().__init__()
        self.elements, self.text = [], ""
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, tuple(name for name, _ in attrs)))

    def handle_data(self, data):
        self.text += data


@pytest.fixture
def whole(make):
    """An analysis with everything that the page can show."""
    analysis = make(n_reps=6)
    path = GroundPath(athlete=WALK, defender=WALK)
    reps = tuple(replace(result, ground=path) for result in analysis.reps)
    return replace(analysis, reps=reps, athlete="K. M.")


def pages(plain, odd, nasty):
    """Both pages, parsed, after the odd one was seen to hold the text and nothing else of it."""
    picture = {1: encode_jpeg(np.full((20, 30, 3), 90, np.uint8))}
    before, after = (Elements(render_page(a, picture)) for a in (plain, odd))
    assert after.elements == before.elements
    assert nasty in after.text
    assert not any(tag == "script" for tag, _ in after.elements)
    assert not any(name.startswith("on") for _, names in after.elements for name in names)


@pytest.mark.slow
@pytest.mark.parametrize("nasty", [text for text in NASTY if "/" not in text])
def test_the_name_of_the_file(whole, nasty):
    clip = replace(whole.clip, path=whole.clip.path.with_name(f"{nasty}.mp4"))
    pages(whole, replace(whole, clip=clip), nasty)


@pytest.mark.slow
@pytest.mark.parametrize("nasty", NASTY)
def test_the_name_of_the_athlete_and_the_level(whole, nasty):
    pages(whole, replace(whole, athlete=nasty), nasty)
    pages(whole, replace(whole, level=nasty), nasty)


@pytest.mark.slow
@pytest.mark.parametrize("nasty", NASTY)
@pytest.mark.parametrize("part", ["set_by", "why", "words"])
def test_what_a_coach_wrote_of_a_range(whole, nasty, part):
    # A range without bounds is shown as it was written.
    bounds = {"low": None, "high": None} if part == "words" else {}

    def written(text):
        def changed(verdict):
            if verdict.target is None:
                return verdict
            return replace(verdict, target=replace(verdict.target, **{part: text}, **bounds))

        return replace(
            whole,
            reps=tuple(replace(r, verdicts=tuple(map(changed, r.verdicts))) for r in whole.reps),
        )

    pages(written("text"), written(nasty), nasty)


@pytest.mark.slow
@pytest.mark.parametrize("nasty", NASTY)
def test_the_name_of_a_drill_of_an_event_and_of_a_measure(whole, nasty):
    def named(name):
        reps = []
        for result in whole.reps:
            events = {**result.rep.events, name: next(iter(result.rep.events.values()))}
            measurement = next(iter(result.measurements.values()))
            measurements = {**result.measurements, name: replace(measurement, key=name)}
            rep = replace(result.rep, move=name, move_by="found", events=events)
            reps.append(replace(result, rep=rep, measurements=measurements))
        return replace(whole, move=None, reps=tuple(reps))

    pages(named("plain"), named(nasty), nasty.replace("_", " "))


@pytest.mark.slow
@pytest.mark.parametrize("nasty", NASTY)
def test_sentences_notes_cautions_and_reasons(whole, nasty):
    def saying(text):
        caution = replace(whole.cautions[0], text=text)
        reps = tuple(
            replace(
                result,
                feedback=(text, text),
                cautions=(caution,),
                field_side=FieldSide(None, text),
                measurements={
                    key: m if m.value is not None else replace(m, reason=text)
                    for key, m in result.measurements.items()
                },
            )
            for result in whole.reps
        )
        session = replace(whole.session, trend=replace(whole.session.trend, text=text))
        return replace(whole, reps=reps, cautions=(caution,), notes=(text,), session=session)

    pages(saying("plain"), saying(nasty), nasty)


@pytest.mark.slow
@pytest.mark.parametrize("nasty", [text for text in NASTY if "{" not in text])
def test_a_coachs_own_words(whole, nasty, tmp_path, monkeypatch):
    """Every text of the page and of a measure is replaced by one with a mark-up in it."""
    shipped = load_words().report

    def toml(text):
        lines = ["[report]"]
        lines += [f"{name} = '''{text} {original}'''" for name, original in shipped.items()]
        for key in ("hand_drop_m", "fake_to_release_s"):
            lines += [f"[measure.{key}]", f"try_low = '''{text}'''", f"name = '''{text}'''"]
        lines += ["[grades]", f"B = '''{text}'''", "[units]", f"m = '''{text}'''"]
        return "\n".join(lines)

    parsed = []
    for name, text in (("plain", "text"), ("odd", nasty)):
        folder = tmp_path / name
        folder.mkdir()
        (folder / "words.toml").write_text(toml(text), encoding="utf-8")
        monkeypatch.setenv(VARIABLE, str(folder))
        parsed.append(Elements(render_page(whole, {})))
    assert parsed[0].elements == parsed[1].elements
    assert nasty in parsed[1].text
