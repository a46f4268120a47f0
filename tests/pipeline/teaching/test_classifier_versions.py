"""Versions of what was learned: kept, in force, taken back; never used over another classifier."""

import json

import numpy as np
import pytest

from models.moves.classifier import move_classifier
from pipeline.core.errors import CorrectionError
from pipeline.teaching import classifier_versions
from pipeline.teaching.classifier_versions import (
    Version,
    classifier_in_force,
    keep_version,
    load_versions,
    take_back,
)
from pipeline.teaching.team_classifier import TeamClassifier, TeamLayer

BASE = move_classifier()
N_HIDDEN = BASE.hidden(np.zeros((1, BASE.centre.size))).shape[1]


@pytest.fixture(autouse=True)
def _folder(tmp_path, monkeypatch):
    monkeypatch.setenv("CROSSEMETRY_DATA", str(tmp_path))


def keep(number, *, put_in_force=True, n_hidden=N_HIDDEN):
    weights = np.zeros((n_hidden + 1, len(BASE.classes)))
    weights[-1, 0] = number
    layer = TeamLayer(centre=np.zeros(n_hidden), scale=np.ones(n_hidden), weights=weights)
    version = Version(
        number=number, at="2026-03-01T10:00:00Z", by="me", n_corrections=3, n_films=2, n=3,
        right_before=1, right_after=2,
    )  # fmt: skip
    keep_version(version, layer, put_in_force=put_in_force)


def test_the_shipped_classifier_alone_until_something_is_learned():
    assert classifier_in_force() is BASE
    with pytest.raises(CorrectionError, match="nothing to undo"):
        take_back()


def test_the_last_version_is_in_force_and_can_be_taken_back():
    keep(1)
    keep(2)
    assert classifier_in_force().version == 2
    assert classifier_in_force().layer.weights[-1, 0] == 2.0
    assert take_back() == (2, 1)
    assert classifier_in_force().version == 1
    assert take_back() == (1, 0)
    assert classifier_in_force() is BASE
    assert [version.number for version in load_versions().learned] == [1, 2]


def test_a_version_that_is_not_better_is_kept_and_not_used():
    keep(1, put_in_force=False)
    assert not isinstance(classifier_in_force(), TeamClassifier)
    assert load_versions().learned[0].right_after == 2


def test_a_layer_over_another_classifier_is_refused(monkeypatch):
    keep(1)
    monkeypatch.setattr(classifier_versions, "_shipped", lambda: "another")
    with pytest.raises(CorrectionError, match="retrain"):
        classifier_in_force()


def test_a_layer_of_another_shape_is_damaged():
    keep(1, n_hidden=3)
    with pytest.raises(CorrectionError, match="damaged"):
        classifier_in_force()


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", json.dumps({"format": 1, "learned": [], "in_force": [4]})]
)
def test_a_list_that_cannot_be_meant_is_damaged(text, tmp_path):
    keep(1)
    (tmp_path / "corrections" / "versions.json").write_text(text)
    with pytest.raises(CorrectionError, match="damaged"):
        classifier_in_force()
