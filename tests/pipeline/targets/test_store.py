"""Setting ranges: nothing wrong is written, nothing is lost, and the history tells all of it."""

import subprocess
import sys
import tempfile
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.core.errors import OutputError, SettingsError
from pipeline.core.files import locked
from pipeline.targets import store
from pipeline.targets.edit import entry_in
from pipeline.targets.entries import Scope, athlete_key
from pipeline.targets.history import history_path, read_history
from pipeline.targets.load import digest_of, load_targets, ranges_used
from pipeline.targets.store import Signed, read_or_empty, replayed, set_range, undo

MOVE, STEP = "throwback_pass", "step_back_m"
ANYONE = Scope(MOVE)
NOON = datetime(2026, 3, 1, 12, tzinfo=timezone(timedelta(hours=2)))
SIGNED = Signed(by="Coach K.", why="spring camp", now=NOON)


def bounds(**said):
    return lambda old: {**said, "set_by": SIGNED.by, "why": SIGNED.why}


@pytest.fixture
def path(tmp_path):
    return tmp_path / "targets.toml"


def step(path):
    return load_targets(path).for_athlete(MOVE, "any", 1.8)[STEP]


def test_a_range_is_set_and_recorded(path):
    record = set_range(path, ANYONE, STEP, bounds(low_m=0.5), SIGNED)
    assert (step(path).low, step(path).high) == (0.5, 1.0)
    assert (record.at, record.by, record.why) == ("2026-03-01T10:00:00Z", SIGNED.by, SIGNED.why)
    assert (record.old, record.new["low_m"]) == (None, 0.5)
    assert read_history(history_path(path)) == [record]
    used = ranges_used(load_targets(path))
    assert (used.source, used.digest, used.changed) == ("coach", record.digest, record.at)


def test_the_new_range_is_made_from_the_present_one(path):
    set_range(path, ANYONE, STEP, bounds(low_m=0.5), SIGNED)
    seen = []

    def new_entry(old):
        seen.append(old)
        return {**old, "high_m": 0.9}

    record = set_range(path, ANYONE, STEP, new_entry, SIGNED)
    assert seen == [record.old] == [{"low_m": 0.5, "set_by": SIGNED.by, "why": SIGNED.why}]
    assert (step(path).low, step(path).high) == (0.5, 0.9)


@pytest.mark.parametrize(
    ("said", "tells"),
    [
        ({"low_m": 0.9, "high_m": 0.5}, "reversed"),
        ({"low_m": 1.5}, "above the upper one, 1 "),  # of the shipped range, which it inherits
        ({"low_deg": 5}, "in metres"),
    ],
)
def test_what_could_not_be_used_is_not_written(path, said, tells):
    set_range(path, ANYONE, STEP, bounds(low_m=0.5), SIGNED)
    before = path.read_bytes(), history_path(path).read_bytes()
    with pytest.raises(SettingsError, match=rf"Nothing was written.*targets\.toml.*{tells}"):
        set_range(path, ANYONE, STEP, bounds(**said), SIGNED)
    assert (path.read_bytes(), history_path(path).read_bytes()) == before


def test_a_file_that_was_there_before_is_kept_in_the_history(path):
    mine = f'set_by = "a"\nwhy = "b"\n[{MOVE}.any.{STEP}]\nlow_m = 0.3\n'
    path.write_text(mine)
    set_range(path, ANYONE, STEP, bounds(low_m=0.5), SIGNED)
    by_hand = path.read_text().replace("0.5", "0.6")
    path.write_text(by_hand)
    set_range(path, ANYONE, STEP, bounds(low_m=0.7), SIGNED)
    records = read_history(history_path(path))
    assert [record.action for record in records] == ["found", "set", "found", "set"]
    assert [records[0].text, records[2].text] == [mine, by_hand]
    assert all(digest_of(record.text) == record.digest for record in records)


def test_a_range_that_was_changed_by_hand_says_when_the_file_was(path):
    set_range(path, ANYONE, STEP, bounds(low_m=0.5), SIGNED)
    path.write_text(path.read_text().replace("0.5", "0.6"))
    used = ranges_used(load_targets(path))
    assert used.digest != read_history(history_path(path))[-1].digest
    assert used.changed > "2026-03-01T10:00:00Z"


def test_undo_restores_and_a_second_one_brings_it_back(path):
    set_range(path, ANYONE, STEP, bounds(low_m=0.5), SIGNED)
    set_range(path, ANYONE, STEP, bounds(low_m=0.6), SIGNED)
    record = undo(path, SIGNED)
    assert (step(path).low, record.action, record.new["low_m"]) == (0.5, "undo", 0.5)
    undo(path, SIGNED)
    assert step(path).low == 0.6
    assert len(read_history(history_path(path))) == 4


def test_undo_of_the_first_range_leaves_none(path):
    set_range(path, ANYONE, STEP, bounds(low_m=0.5), SIGNED)
    undo(path, SIGNED)
    assert step(path).set_by == "shipped defaults"


def test_undo_needs_a_change_and_leaves_what_was_changed_by_hand(path):
    with pytest.raises(SettingsError, match="no change to undo"):
        undo(path, SIGNED)
    set_range(path, ANYONE, STEP, bounds(low_m=0.5), SIGNED)
    path.write_text(path.read_text().replace("0.5", "0.6"))
    with pytest.raises(SettingsError, match=r"targets\.toml, line 3.*by hand"):
        undo(path, SIGNED)
    assert step(path).low == 0.6


def test_a_second_writer_is_told(path):
    with locked(path), pytest.raises(OutputError, match="another program"):
        set_range(path, ANYONE, STEP, bounds(low_m=0.5), SIGNED, wait_s=0.0)
    assert not path.exists()


def test_an_editor_that_saves_at_the_same_moment_loses_nothing(path):
    def somebody_saves(old):
        path.write_text("# hello\n")
        return bounds(low_m=0.5)(old)

    with pytest.raises(OutputError, match="changed by hand at this very moment"):
        set_range(path, ANYONE, STEP, somebody_saves, SIGNED)
    assert path.read_text() == "# hello\n"


def test_a_disk_that_does_not_take_it_is_told(path, monkeypatch):
    def full(path, parts):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(store, "write_whole", full)
    with pytest.raises(OutputError, match="No space left"):
        set_range(path, ANYONE, STEP, bounds(low_m=0.5), SIGNED)
    assert read_history(history_path(path)) == []


@pytest.mark.slow
def test_many_programs_at_once_lose_nothing(path):
    code = (
        "import sys; from pipeline.commands.main import main\n"
        "main(['targets', 'set', 'throwback_pass', 'step_back_m', '--low', '0.' + sys.argv[1],\n"
        "      '--athlete', sys.argv[1], '--by', 'K.', '--why', 'w', '--file', sys.argv[2]])"
    )
    names = [str(number) for number in range(1, 4)]
    started = [subprocess.Popen([sys.executable, "-c", code, name, str(path)]) for name in names]
    assert [program.wait() for program in started] == [0] * len(names)
    file = read_or_empty(path)
    for name in names:
        entry = entry_in(file, Scope(MOVE, athlete=name), STEP)
        assert entry["low_m"] == float(f"0.{name}")
    records = read_history(history_path(path))
    assert sorted(record.athlete for record in records) == names
    assert digest_of(file.text) == records[-1].digest


places = st.builds(
    Scope,
    st.just(MOVE),
    st.sampled_from(["any", "youth"]),
    st.sampled_from(["any", "left"]),
    st.sampled_from(["any", "K. M.", "k. m."]),
)
entries = st.one_of(
    st.none(),
    st.fixed_dictionaries({"low_m": st.floats(0.1, 0.5)}, optional={"high_m": st.floats(0.6, 1.0)}),
    st.just({"no_range": True}),
)
changes = st.lists(st.tuples(places, entries) | st.just("undo"), max_size=6)


@pytest.mark.slow
@settings(max_examples=25, deadline=None)
@given(changes=changes)
def test_the_history_replays_to_the_present_state(changes):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "targets.toml"
        for change in changes:
            if change != "undo":
                place, said = change
                set_range(path, place, STEP, lambda old, s=said: s and bounds(**s)(old), SIGNED)
            elif path.exists():
                undo(path, SIGNED)
        records = read_history(history_path(path))
        file = read_or_empty(path)
        if records:
            assert (records[-1].text, records[-1].digest) == (file.text, digest_of(file.text))
        present = {
            (place._replace(athlete=athlete_key(place.athlete)), STEP): entry_in(file, place, STEP)
            for change in changes
            if change != "undo"
            for place in [change[0]]
        }
        assert replayed(records) == {k: v for k, v in present.items() if v is not None}
