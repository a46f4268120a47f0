"""The history: read back as written, whole even after a crash, and searched by version."""

from dataclasses import replace

import pytest

from pipeline.core.errors import SettingsError
from pipeline.targets.history import (
    Record,
    append_record,
    history_path,
    read_history,
    record_of,
)

FIRST = Record(
    at="2026-03-01T18:00:00Z", action="set", by="K.\u2028M.", why="weak hand",
    move="throwback_pass", level="any", hand="left", athlete="any", measure="step_back_m", old=None,
    new={"low_m": 0.5, "no_range": False}, text="a\nb\n", digest="0123456789ab",
)  # fmt: skip
SECOND = replace(FIRST, at="2026-03-02T07:00:00Z", digest="fedcba987654", text="c\n")


@pytest.fixture
def path(tmp_path):
    return history_path(tmp_path / "targets.toml")


def test_it_lies_beside_the_ranges(path):
    assert path.name == "targets.history.jsonl"
    assert read_history(path) == []


def test_records_come_back_as_they_were_written(path):
    for record in (FIRST, SECOND):
        append_record(path, record)
    assert read_history(path) == [FIRST, SECOND]
    assert path.read_bytes().count(b"\n") == 2


def test_a_line_that_broke_off_is_left_out_and_does_not_spoil_the_next(path):
    append_record(path, FIRST)
    with path.open("ab") as file:
        file.write(b'{"at": "2026-')
    assert read_history(path) == [FIRST]
    append_record(path, SECOND)
    assert read_history(path) == [FIRST, SECOND]


@pytest.mark.parametrize("line", ["no json", "[1]", '{"at": 1}', "{}"])
def test_a_line_that_is_none_of_a_history_is_named(path, line):
    append_record(path, FIRST)
    with path.open("a") as file:
        file.write(line + "\n")
    with pytest.raises(SettingsError, match=r"targets\.history\.jsonl, line 2: not a line"):
        read_history(path)


def test_what_is_no_text_is_named(path):
    path.write_bytes(b"\xff\n")
    with pytest.raises(SettingsError, match=r"history\.jsonl: .* cannot be read"):
        read_history(path)


@pytest.mark.parametrize(
    ("version", "found"),
    [
        ("0123", FIRST), ("FEDCBA987654", SECOND), ("2026-03-01", FIRST), ("2026-03-02", SECOND),
        ("2026-03-02T06:59", FIRST), ("2030-01-01", SECOND),
    ],
)  # fmt: skip
def test_a_state_is_found_by_digest_or_day(path, version, found):
    assert record_of([FIRST, SECOND], version, path=path) == found


@pytest.mark.parametrize("version", ["2026-02-28", "012", "aaaa", ""])
def test_a_state_that_never_was_is_told_with_the_oldest(path, version):
    with pytest.raises(SettingsError, match="oldest is 2026-03-01T18:00:00Z"):
        record_of([FIRST, SECOND], version, path=path)
