"""A file is written whole: a failure keeps what was there and leaves nothing beside it."""

import pytest

from pipeline.core.files import write_whole


def test_the_parts_are_written_one_after_the_other_over_what_was_there(tmp_path):
    path = tmp_path / "note.txt"
    path.write_text("old and longer")
    write_whole(path, [b"new ", b"text"])
    assert path.read_text() == "new text"


def test_a_failure_half_way_keeps_the_old_file_and_leaves_no_other(tmp_path):
    path = tmp_path / "note.txt"
    path.write_text("old")

    def parts():
        yield b"half"
        raise OSError(28, "No space left on device")

    with pytest.raises(OSError, match="No space left"):
        write_whole(path, parts())
    assert path.read_text() == "old"
    assert [file.name for file in tmp_path.iterdir()] == ["note.txt"]


def test_a_folder_that_is_not_there_is_an_error(tmp_path):
    with pytest.raises(FileNotFoundError):
        write_whole(tmp_path / "none" / "note.txt", [b"text"])
