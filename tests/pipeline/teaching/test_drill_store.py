"""Drills on the disk: whole or refused, never code, nothing in them that a picture could be."""

import io
import json

import numpy as np
import pytest

from pipeline.core.errors import DrillError
from pipeline.settings.checks import drill_names, drill_path
from pipeline.teaching.drill_store import forget_drill, load_drill, requested_drill, save_drill
from tests.fixtures.drilling import drill_of, drill_player, frame_of

DRILL = drill_of(
    frame_of(drill_player())[0],
    name="Lift",
    like="high_to_low_shot",
    measures=("hand_drop_m",),
    taught_by="Coach",
    taught_on="2026-03-01",
)


@pytest.fixture(autouse=True)
def _folder(tmp_path, monkeypatch):
    monkeypatch.setenv("CROSSEMETRY_DATA", str(tmp_path))


def test_a_drill_comes_back_as_it_was():
    save_drill(DRILL)
    kept = load_drill("lift")
    assert drill_names() == ("Lift",)
    for one, other in zip(kept.examples, DRILL.examples, strict=True):
        assert np.allclose(one.values, other.values, atol=1e-5)
        assert (one.events, one.digest) == (other.events, other.digest)
    assert np.allclose(kept.factors, DRILL.factors)
    for name in ("name", "hand", "reach", "event_u_s", "like", "measures", "taught_by"):
        assert getattr(kept, name) == getattr(DRILL, name)


def test_only_what_was_taught_is_asked_for():
    save_drill(DRILL)
    assert requested_drill(None) is None
    assert requested_drill("throwback_pass") is None
    assert requested_drill("Lift").name == "Lift"


def test_a_forgotten_drill_is_gone():
    save_drill(DRILL)
    assert forget_drill("LIFT") == "Lift"
    assert drill_names() == ()
    with pytest.raises(DrillError):
        load_drill("Lift")


def rewritten(**changes):
    """Write the file anew with another head or other arrays."""
    with np.load(drill_path("Lift"), allow_pickle=False) as kept:
        arrays = dict(kept)
    head = json.loads(arrays.pop("head").tobytes())
    arrays |= changes.pop("arrays", {})
    text = json.dumps(head | changes).encode()
    packed = io.BytesIO()
    np.savez(packed, head=np.frombuffer(text, np.uint8), **arrays)
    drill_path("Lift").write_bytes(packed.getvalue())


@pytest.mark.parametrize(
    "changes",
    [
        {"reach": "far"},
        {"hand": "both"},
        {"like": "a_move"},
        {"columns": ["x"]},
        {"examples": []},
        {"examples": [{"events": {}, "digest": ""}] * 9},
        {"event_u_s": {"release": None}},
        {"arrays": {"factors": np.zeros(3)}},
        {"arrays": {"example_0": np.full((5, 3), 1.0)}},
        {"arrays": {"example_0": np.full(DRILL.examples[0].values.shape, np.nan)}},
    ],
)
def test_a_file_that_cannot_be_meant_is_damaged(changes):
    save_drill(DRILL)
    rewritten(**changes)
    with pytest.raises(DrillError, match="damaged"):
        load_drill("Lift")


def test_objects_are_never_unpacked():
    save_drill(DRILL)
    rewritten(arrays={"example_0": np.array([{"a": 1}], dtype=object)})
    with pytest.raises(DrillError, match="damaged"):
        load_drill("Lift")


@pytest.mark.parametrize("content", [b"", b"PK", b"no file of numbers"])
def test_what_is_no_such_file_is_damaged(content):
    save_drill(DRILL)
    drill_path("Lift").write_bytes(content)
    with pytest.raises(DrillError, match="damaged"):
        load_drill("Lift")


@pytest.mark.parametrize("share", [0.3, 0.6, 0.95])
def test_half_a_file_is_damaged(share):
    save_drill(DRILL)
    whole = drill_path("Lift").read_bytes()
    drill_path("Lift").write_bytes(whole[: int(share * len(whole))])
    with pytest.raises(DrillError, match="damaged"):
        load_drill("Lift")


def test_another_version_is_said():
    save_drill(DRILL)
    rewritten(format=99)
    with pytest.raises(DrillError, match="another version"):
        load_drill("Lift")
