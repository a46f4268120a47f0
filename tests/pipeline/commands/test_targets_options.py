"""What the commands on ranges accept."""

import pytest

from pipeline.commands.targets_options import (
    Who,
    checked_measure,
    checked_moves,
    checked_text,
    checked_who,
    file_to_write,
)
from pipeline.core.errors import SettingsError
from pipeline.core.files import VARIABLE
from pipeline.core.move_table import known_moves


def test_anyone_is_meant_when_nobody_is_named():
    assert checked_who(None, None, None) == Who(level="any", hand=None, athlete=None)
    assert checked_who("any", "any", " Any ") == Who(level="any", hand=None, athlete=None)
    assert checked_who("youth", "left", " 7 ") == Who(level="youth", hand="left", athlete="7")


def test_all_moves_are_meant_when_none_is_named():
    assert checked_moves(None) == known_moves()
    assert checked_moves("throwback_pass") == ("throwback_pass",)


def test_a_measure_must_be_of_the_move():
    assert checked_measure("throwback_pass", "step_back_m").unit == "m"
    with pytest.raises(SettingsError, match="not a measure of throwback_pass"):
        checked_measure("throwback_pass", "cushion_m")


@pytest.mark.parametrize("text", ["", "  ", "a\nb", "\x1b", "x" * 501])
def test_text_that_cannot_be_shown_is_refused(text):
    with pytest.raises(SettingsError, match="--why"):
        checked_text(text, named="--why")
    assert checked_text(" weak hand ", named="--why") == "weak hand"


def test_the_folder_of_the_program_is_made_and_others_are_not(tmp_path, monkeypatch):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "kept"))
    assert file_to_write(None) == tmp_path / "kept" / "targets.toml"
    assert (tmp_path / "kept").is_dir()
    with pytest.raises(SettingsError, match="folder does not exist"):
        file_to_write(tmp_path / "none" / "mine.toml")
