"""Files about people stand in the list of their folder, whoever writes or is killed."""

import json
from concurrent.futures import ThreadPoolExecutor

import pytest

from pipeline.core.errors import OutputError
from pipeline.core.files import locked
from pipeline.report import manifest
from pipeline.report.manifest import (
    MANIFEST_NAME,
    Origin,
    manifest_path,
    read_manifest,
    recorded_file,
    save_manifest,
    stamp_of,
    write_recorded,
)

OF_A = Origin(made_by="report", films=("a" * 64,), athletes=("Zoë",))


def test_the_list_names_each_file_with_its_content_and_what_it_is_of(tmp_path):
    folder = tmp_path / "out" / "film"
    assert write_recorded(folder, {"a.csv": [b"1", b"2"]}, OF_A) == [folder / "a.csv"]
    with recorded_file(folder / "b.mp4", Origin(made_by="overlay")) as part:
        part.write_bytes(b"film")
    kept = read_manifest(folder)
    assert kept.made_folder
    assert {name: entry.stamp for name, entry in kept.entries.items()} == {
        name: stamp_of(folder / name) for name in ("a.csv", "b.mp4")
    }
    assert kept.entries["a.csv"].origin == OF_A
    assert sorted(path.name for path in folder.iterdir()) == ["a.csv", "b.mp4", MANIFEST_NAME]


def test_two_writers_lose_no_entry(tmp_path):
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(lambda i: write_recorded(tmp_path, {f"{i}": [b"x"]}, OF_A), range(24)))
    assert set(read_manifest(tmp_path).entries) == {f"{i}" for i in range(24)}


def test_a_file_that_somebody_changed_or_linked_is_not_ours(tmp_path):
    write_recorded(tmp_path, {"a": [b"ours"], "b": [b"ours"]}, OF_A)
    entries = read_manifest(tmp_path).entries
    assert entries["a"].is_unchanged(tmp_path / "a")
    (tmp_path / "a").write_bytes(b"mine")
    (tmp_path / "b").rename(tmp_path / "c")
    (tmp_path / "b").symlink_to(tmp_path / "c")
    assert not entries["a"].is_unchanged(tmp_path / "a")
    assert not entries["b"].is_unchanged(tmp_path / "b")


@pytest.mark.parametrize("at", range(1, 5))
def test_whoever_is_killed_while_writing_leaves_no_file_that_is_not_in_the_list(
    tmp_path, monkeypatch, at
):
    write_recorded(tmp_path, {"a": [b"old"]}, OF_A)
    calls = []

    def killed_at(do):
        def step(*arguments):
            calls.append(do)
            if len(calls) >= at:
                raise KeyboardInterrupt
            return do(*arguments)

        return step

    # From then on nothing is done any more, also not what would be cleared away.
    monkeypatch.setattr(manifest, "save_manifest", killed_at(manifest.save_manifest))
    monkeypatch.setattr(manifest.Path, "replace", killed_at(manifest.Path.replace))
    monkeypatch.setattr(manifest.Path, "unlink", lambda *_, **__: None)
    with pytest.raises(KeyboardInterrupt):
        write_recorded(tmp_path, {"a": [b"new"], "b": [b"new"]}, OF_A)
    monkeypatch.undo()
    entries = read_manifest(tmp_path).entries
    for path in tmp_path.iterdir():
        if MANIFEST_NAME not in path.name:
            assert entries[path.name].is_unchanged(path), path


def test_what_fails_leaves_nothing_behind(tmp_path):
    def broken():
        yield b"half"
        raise OSError("disk")

    with pytest.raises(OSError, match="disk"):
        write_recorded(tmp_path / "new", {"a": broken()}, OF_A)
    assert list(tmp_path.iterdir()) == []


def test_files_of_the_version_before_join_the_list(tmp_path):
    digest = "b" * 64
    table = {"clip": {"digest": digest, "athlete": "Dot"}}
    (tmp_path / "reps.json").write_text(json.dumps(table))
    for name in ("overlay.mp4", "rep_01.jpg", "rep_1.jpg", "notes.txt"):
        (tmp_path / name).write_text(name)
    write_recorded(tmp_path, {"reps.csv": [b""]}, Origin(made_by="export", films=(digest,)))
    entries = read_manifest(tmp_path).entries
    assert set(entries) == {"reps.json", "overlay.mp4", "rep_01.jpg", "reps.csv"}
    assert entries["overlay.mp4"].origin.athletes == ("Dot",)


@pytest.mark.parametrize(
    "text", ["", "[]", '{"schema": "other/1"}',
             '{"schema": "crossemetry.files/1", "made_folder": true, "files": {"../x": {}}}'],
)  # fmt: skip
def test_a_list_that_is_none_is_refused_and_left_alone(tmp_path, text):
    manifest_path(tmp_path).write_text(text)
    with pytest.raises(OutputError, match=MANIFEST_NAME):
        write_recorded(tmp_path, {"a": [b""]}, OF_A)
    assert manifest_path(tmp_path).read_text() == text


def test_a_lock_that_goes_away_is_held_by_one_at_a_time(tmp_path):
    inside = []

    def add(number):
        with locked(tmp_path / "list", wait_s=30.0, keep=False):
            inside.append(number)
            assert inside == [number]
            inside.clear()

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(add, range(200)))
    assert list(tmp_path.iterdir()) == []


def test_an_empty_list_is_no_file(tmp_path):
    write_recorded(tmp_path, {"a": [b""]}, OF_A)
    save_manifest(tmp_path, manifest.Manifest())
    assert read_manifest(tmp_path) is None
