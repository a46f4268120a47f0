"""From what a person says of a rep to what names the next one."""

from dataclasses import replace

import pytest

from models.moves.classifier import move_classifier
from pipeline.core.errors import CorrectionError
from pipeline.people.cache import TrackCache
from pipeline.people.landmarks import tracks_key
from pipeline.settings.settings import AnalysisSettings
from pipeline.teaching import correct as correcting
from pipeline.teaching.classifier_versions import classifier_in_force, load_versions
from pipeline.teaching.correct import CorrectionRequest, correct, corrected, read_reps, retrain
from pipeline.teaching.corrections_store import load_corrections
from pipeline.teaching.team_classifier import TeamClassifier, named
from tests.fixtures.corrected import AT, film, moments, write_reps
from tests.fixtures.players import frames_s
from tests.fixtures.rep_films import clip_of, shot_tracks

SAID = CorrectionRequest(rep=1, move=None, split_at_s=None, join_with=None, by="me", at=AT)


@pytest.fixture(autouse=True)
def _folder(tmp_path, monkeypatch):
    monkeypatch.setenv("CROSSEMETRY_DATA", str(tmp_path / "data"))


@pytest.fixture
def reps(tmp_path):
    return read_reps(write_reps(tmp_path / "out" / "film" / "reps.json"))[1]


def said(reps, **changes):
    return corrected(moments(), reps, replace(SAID, **changes))


@pytest.mark.slow
def test_each_kind_of_correction(reps):
    one = said(reps, move="split_dodge")
    assert (one.kind, one.was, one.label) == ("relabelled", "throwback_pass", "split_dodge")
    assert said(reps).kind == "confirmed"
    assert said(reps, move="not_a_rep").kind == "dismissed"
    assert said(reps, move="unknown").label == "other"
    middle_s = sum(reps[0].window_s) / 2
    split = said(reps, split_at_s=middle_s)
    assert split.windows_s == ((reps[0].window_s[0], middle_s), (middle_s, reps[0].window_s[1]))
    assert [lesson.label for lesson in split.lessons] == ["throwback_pass"] * 2
    joined = said(reps, join_with=2)
    assert sorted(lesson.label for lesson in joined.lessons) == ["not_a_rep", "throwback_pass"]


@pytest.mark.parametrize(
    ("changes", "words"),
    [({"rep": 9}, "Reps: 1, 2, 3"), ({"split_at_s": 0.0}, "does not split"),
     ({"join_with": 1}, "with itself"), ({"join_with": 7}, "no rep 7")],
)  # fmt: skip
def test_what_cannot_be_meant_is_refused(reps, changes, words):
    with pytest.raises(CorrectionError, match=words):
        said(reps, **changes)


@pytest.mark.parametrize("text", ["", "[]", '{"clip": {}}', '{"clip": {"digest": 1}, "reps": []}'])
def test_results_that_are_none_are_refused(tmp_path, text):
    path = tmp_path / "reps.json"
    path.write_text(text)
    with pytest.raises(CorrectionError, match="not the results"):
        read_reps(path)


@pytest.mark.parametrize(
    ("model", "every_frame"), [("lite", True), ("full", False), ("heavy", False)]
)
def test_landmarks_that_an_analysis_with_any_model_kept_are_found(tmp_path, model, every_frame):
    time_s = frames_s(3.0)
    clip, tracks = clip_of(time_s, digest="3" * 64), shot_tracks(time_s)
    settings = AnalysisSettings(stature_m=1.8, model=model, every_frame=every_frame)
    TrackCache(tmp_path).save(tracks_key(clip.digest, settings), clip, tracks)
    path = write_reps(tmp_path / "out" / "film" / "reps.json")
    said = replace(SAID, move="split_dodge")
    assert correct(path, said, clip_path=None, cache_dir=tmp_path).label == "split_dodge"


def test_landmarks_that_are_not_kept_are_said(tmp_path):
    path = write_reps(tmp_path / "out" / "film" / "reps.json")
    with pytest.raises(CorrectionError, match="--clip"):
        correct(path, SAID, clip_path=None, cache_dir=tmp_path / "none")


def taught(tmp_path, monkeypatch, seeds, move):
    """Correct the first rep of each of some films."""
    for seed in seeds:
        monkeypatch.setattr(correcting, "_moments", lambda *_, seed=seed: moments(seed))
        path = write_reps(tmp_path / "out" / str(seed) / "reps.json", seed)
        correct(path, replace(SAID, move=move), clip_path=None, cache_dir=tmp_path)


@pytest.mark.slow
def test_what_is_learned_names_the_next_film_otherwise(tmp_path, monkeypatch):
    taught(tmp_path, monkeypatch, (3, 4, 5, 6), "hesitation_dodge")
    assert len(load_corrections().made) == 4
    learned = retrain(by="me", at=AT, anyway=False)
    assert learned.in_force, learned.why_not
    assert learned.held_out.right_before == 0
    assert learned.held_out.right_after >= 2
    assert learned.version.number == load_versions().current == 1
    layered = classifier_in_force()
    assert isinstance(layered, TeamClassifier)
    rep = film(7).reps[0]
    lesson = corrected(
        moments(7), [correcting.FoundRep(index=1, window_s=(rep.start_s, rep.stop_s), move="x")],
        replace(SAID, move="hesitation_dodge"),
    ).lessons[0]  # fmt: skip
    assert named(move_classifier(), lesson.features) == "throwback_pass"
    here = layered.probabilities(lesson.features).mean(axis=0)
    before = move_classifier().probabilities(lesson.features).mean(axis=0)
    column = layered.classes.index("hesitation_dodge")
    assert here[column] > 5 * before[column]


def test_with_one_film_nothing_is_put_in_force_unless_told(tmp_path, monkeypatch):
    with pytest.raises(CorrectionError, match="no corrections"):
        retrain(by="me", at=AT, anyway=False)
    taught(tmp_path, monkeypatch, (3,), "hesitation_dodge")
    learned = retrain(by="me", at=AT, anyway=False)
    assert not learned.in_force
    assert "one film only" in learned.why_not
    assert classifier_in_force() is move_classifier()
    assert retrain(by="me", at=AT, anyway=True).in_force
    assert load_versions().current == 2


def test_what_is_worse_is_not_put_in_force(tmp_path, monkeypatch):
    worse = replace(
        correcting.hold_out(move_classifier(), [], []), n=4, right_before=3, right_after=2
    )
    assert "fewer" in correcting._why_not(worse)
    changed = replace(worse, right_after=4, changed=0.2)
    assert "20%" in correcting._why_not(changed)
    assert correcting._why_not(replace(changed, changed=0.01)) == ""
