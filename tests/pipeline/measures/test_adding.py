"""A measure is added by one decorated function, a block of texts a language, and a range."""

import importlib.util
import shutil
from types import MappingProxyType

import numpy as np
import pytest

from pipeline.core import catalogue, messages
from pipeline.core.catalogue import LANGUAGES
from pipeline.core.results import RepResult
from pipeline.core.types import JOINTS, Event, Rep
from pipeline.feedback import words, words_file
from pipeline.feedback.rep_feedback import rep_sentences
from pipeline.feedback.words import load_words
from pipeline.film_check.finding import keys_read_from
from pipeline.measures import MEASURES, measures_of
from pipeline.measures.measuring import measure_rep
from pipeline.people.smoothing import smooth_tracks
from pipeline.report.charts import chart_of
from pipeline.report.rep_section import row_of
from pipeline.scene.depth import place_person
from pipeline.scene.from_athlete import find_scene
from pipeline.targets.load import load_targets
from pipeline.targets.verdicts import judge_rep
from tests.fixtures.players import frames_s, shooter
from tests.fixtures.walker import SIZE_PX, STATURE_M, camera_at, tracks_of

KEY, MOVE = "shoulder_height_at_release_m", "high_to_low_shot"

FUNCTION = '''
from pipeline.core.move_table import THROWS
from pipeline.measures.registry import measure
from pipeline.measures.view import DrawnValue, RepView, sample


@measure(
    "shoulder_height_at_release_m", moves=THROWS, ground="own_foot", read_from="release"
)
def shoulder_height_at_release(view: RepView) -> DrawnValue:
    """Height of the middle of the shoulders above the ground at the release."""
    shoulders = view.athlete.middle("shoulder")
    at_release = sample(shoulders, view.athlete.time_s, view.instant("release"))
    return DrawnValue(at_release[:, 2], view.at("release"))
'''

TEXTS = MappingProxyType({
    "en": """
[measure.shoulder_height_at_release_m]
title = "Shoulder height when letting go"
name = "how high your shoulders were as you let go"
said = "as you let go your shoulders were at {number}"
low = "lower than you need"
high = "too tall for a low shot"
try_low = "stay a little taller"
try_high = "bend your knees before you let go"
""",
    "es": """
[measure.shoulder_height_at_release_m]
title = "Altura de los hombros al soltar"
name = "la altura de tus hombros al soltar"
said = "al soltar tus hombros estaban a {number}"
low = "más bajo de lo necesario"
high = "demasiado alto para un tiro bajo"
try_low = "quédate un poco más alto"
try_high = "dobla las rodillas antes de soltar"
""",
})  # fmt: skip

RANGE = """
set_by = "a coach"
why = "a test"

[high_to_low_shot.any.shoulder_height_at_release_m]
high_of_stature = 0.5
"""

TIME_S = frames_s(3.0)
REP = Rep(
    index=1, start_s=0.9, stop_s=2.1, start_frame=54, stop_frame=127, move=MOVE,
    stick_hand="right",
    events={
        name: Event(time_s=at_s, frame=round(60 * at_s), u_s=0.008)
        for name, at_s in {"start": 0.9, "hands_high": 1.5, "release": 2.0, "finish": 2.1}.items()
    },
)  # fmt: skip


def forget_texts():
    """Have the catalogues read afresh."""
    for cached in (catalogue.shipped_texts, messages.shipped, words._read):
        cached.cache_clear()


@pytest.fixture
def added(monkeypatch, tmp_path):
    """The module, the blocks and the range as somebody would add them; gives the ranges."""
    for language in LANGUAGES:
        shutil.copytree(catalogue.shipped_path(language).parent, tmp_path / language)
        with (tmp_path / language / "words.toml").open("a", encoding="utf-8") as file:
            file.write(TEXTS[language])
    for module in (catalogue, words_file):
        monkeypatch.setattr(module, "shipped_path", lambda of: tmp_path / of / "words.toml")
    monkeypatch.setattr(MEASURES, "_infos", dict(MEASURES._infos))
    forget_texts()
    path = tmp_path / "shoulders.py"
    path.write_text(FUNCTION, encoding="utf-8")
    spec = importlib.util.spec_from_file_location("shoulders", path)
    spec.loader.exec_module(importlib.util.module_from_spec(spec))
    (tmp_path / "targets.toml").write_text(RANGE, encoding="utf-8")
    yield load_targets(tmp_path / "targets.toml")
    monkeypatch.undo()
    forget_texts()


@pytest.fixture(scope="module")
def seen():
    """A shooter before a known camera, and how tall the shoulders are at the release."""
    shot = shooter(TIME_S, (2.0,))
    tracks = smooth_tracks(tracks_of(shot.joints_m, camera_at(), 1.1), TIME_S)
    scene = find_scene(tracks, size_px=SIZE_PX, stature_m=STATURE_M, fov_deg=65.0, seed=0)
    return place_person(tracks, 0, scene), scene, shot


def measured_of(seen):
    athlete, scene, _ = seen
    return measure_rep(REP, athlete=athlete, defender=None, scene=scene, time_s=TIME_S, seed=0)


@pytest.mark.slow
def test_it_is_measured_judged_told_and_shown(added, seen):
    measured = measured_of(seen)
    ranges = added.for_athlete(MOVE, "school", STATURE_M)
    shoulders = {KEY: measured[KEY]}
    verdicts = judge_rep(shoulders, {KEY: ranges[KEY]})
    (verdict,) = verdicts
    assert (verdict.word, verdict.side) == ("out of range", "high")
    told = {
        language: rep_sentences(MOVE, shoulders, verdicts, load_words(language=language))
        for language in LANGUAGES
    }
    assert "As you let go your shoulders were at 1." in told["en"][0]
    assert "bend your knees before you let go" in told["en"][0]
    assert "dobla las rodillas" in told["es"][0]
    result = RepResult(rep=REP, measurements=measured, verdicts=verdicts, feedback=(), cautions=())
    row = row_of(load_words(), result, KEY, seen[1])
    assert row.title == "Shoulder height when letting go"
    assert row.number.endswith(" m")
    assert chart_of(load_words(), KEY, [result, result]).title == row.title


def test_its_value_is_that_of_the_motion(added, seen):
    del added
    value, shot = measured_of(seen)[KEY], seen[2]
    at_release = int(np.argmin(np.abs(TIME_S - 2.0)))
    shoulders = [JOINTS.index(f"{side}_shoulder") for side in ("left", "right")]
    height_m = shot.joints_m[at_release, shoulders, 2].mean()
    assert value.value == pytest.approx(height_m, abs=2 * value.u)


def test_unit_decimals_and_place_follow_from_its_key_and_its_texts(added):
    del added
    info = MEASURES[KEY]
    assert (info.unit, info.decimals) == ("m", 2)
    assert measures_of(MOVE)[-1] is info
    assert KEY in keys_read_from(MOVE, "hands")
    assert info.definition.startswith("Height of the middle of the shoulders")


def test_the_others_have_the_values_they_had(seen, request):
    before = measured_of(seen)
    request.getfixturevalue("added")
    after = measured_of(seen)
    assert set(after) - set(before) == {KEY}
    assert {key: (m.value, m.u, m.reason) for key, m in after.items() if key != KEY} == {
        key: (m.value, m.u, m.reason) for key, m in before.items()
    }
