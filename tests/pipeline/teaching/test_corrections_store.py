"""Corrections on the disk: they come back as they were, or are refused."""

import numpy as np
import pytest

from models.moves.classifier import move_classifier
from pipeline.core.errors import CorrectionError
from pipeline.teaching.corrections import anchors_of
from pipeline.teaching.corrections_store import (
    Corrections,
    corrections_path,
    load_corrections,
    read_packed,
    save_corrections,
    write_packed,
)
from tests.fixtures.corrected import correction, moments

BASE = move_classifier()


@pytest.fixture(autouse=True)
def _folder(tmp_path, monkeypatch):
    monkeypatch.setenv("CROSSEMETRY_DATA", str(tmp_path))


def two():
    made = Corrections().with_one(correction(BASE), anchors_of(moments()))
    return made.with_one(correction(BASE, number=1), anchors_of(moments()))


def test_they_come_back_as_they_were():
    assert load_corrections().made == ()
    save_corrections(two())
    kept = load_corrections()
    for one, other in zip(kept.made, two().made, strict=True):
        assert (one.kind, one.was, one.label, one.by, one.at, one.clip) == (
            other.kind, other.was, other.label, other.by, other.at, other.clip,
        )  # fmt: skip
        assert one.windows_s == other.windows_s
    for one, other in zip(kept.lessons, two().lessons, strict=True):
        assert one.label == other.label
        assert np.allclose(one.features, other.features, equal_nan=True)
    for one, other in zip(kept.held, two().held, strict=True):
        assert np.allclose(one.features, other.features, atol=0.05, equal_nan=True)


def test_a_later_word_takes_the_place_of_an_earlier_one():
    changed = two().with_one(correction(BASE, label="roll_dodge"), anchors_of(moments()))
    assert [one.label for one in changed.made] == ["split_dodge", "roll_dodge"]


def test_what_is_corrected_is_no_anchor():
    one = Corrections().with_one(correction(BASE), anchors_of(moments()))
    assert len(two().held[0].features) <= len(one.held[0].features)
    assert len(one.held[0].features) < len(anchors_of(moments())[0]) + 1


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04", b"nothing"])
def test_a_file_of_another_kind_is_damaged(content):
    save_corrections(two())
    corrections_path().write_bytes(content)
    with pytest.raises(CorrectionError, match="damaged"):
        load_corrections()


@pytest.mark.parametrize(
    ("head", "said"),
    [({"format": 9}, "another version"), ({"n_features": 3}, "another version"),
     ({"made": [{}]}, "damaged"), ({"anchors": ["a", "b"]}, "damaged"), ({"made": []}, "damaged")],
)  # fmt: skip
def test_what_cannot_be_meant_is_refused(head, said):
    save_corrections(two())
    before, arrays = read_packed(corrections_path())
    write_packed(corrections_path(), before | head, arrays)
    with pytest.raises(CorrectionError, match=said):
        load_corrections()


def test_objects_are_never_unpacked():
    save_corrections(two())
    head, arrays = read_packed(corrections_path())
    write_packed(corrections_path(), head, arrays | {"lessons": np.array([{}], dtype=object)})
    with pytest.raises(CorrectionError, match="damaged"):
        load_corrections()
