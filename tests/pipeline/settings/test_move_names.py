"""Names of drills: which may be, which are there, and that none becomes another file."""

import pytest

from pipeline.core.errors import DrillError
from pipeline.core.messages import shipped
from pipeline.core.move_table import known_moves
from pipeline.settings.checks import (
    check_drill_name,
    drill_names,
    drill_path,
    existing_drill,
    known_move_names,
)


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("CROSSEMETRY_DATA", str(tmp_path))
    return tmp_path / "drills"


@pytest.mark.parametrize(
    "name",
    ["", "a.b", "../up", "a/b", "a\\b", "a b", "7up", "_x", "é", "x" * 41, "a\n", "unknown",
     "Throwback_Pass"],
)  # fmt: skip
def test_a_name_that_could_mislead_is_refused(name):
    with pytest.raises(DrillError):
        check_drill_name(name)
    with pytest.raises(DrillError):
        drill_path(name)


@pytest.mark.parametrize("name", ["gate_run", "A", "Drill2", "con", "x" * 40])
def test_a_plain_name_stays_in_the_folder(name, folder):
    assert check_drill_name(name) == name
    assert drill_path(name).parent == folder
    assert drill_path(name).stem != name


def test_drills_are_known_beside_the_moves(folder):
    assert known_move_names() == known_moves()
    folder.mkdir()
    for name in ("drill_zig.npz", "drill_Back.npz", "drill_a b.npz", ".drill_x.npz.1.part", "y"):
        (folder / name).touch()
    assert drill_names() == ("Back", "zig")
    assert known_move_names() == (*known_moves(), "Back", "zig")


def test_a_drill_is_found_whatever_the_case_and_the_nearest_is_named(folder):
    folder.mkdir()
    (folder / "drill_Gate_Run.npz").touch()
    assert existing_drill("gate_run") == "Gate_Run"
    with pytest.raises(DrillError, match="Did you mean Gate_Run"):
        existing_drill("gate_rum")


def test_a_drill_that_is_not_there_is_said_in_spanish(folder):
    with pytest.raises(DrillError) as raised:
        existing_drill("gate_run")
    assert raised.value.translate(shipped("es")).endswith(
        "Enséñalo primero: crossemetry teach --help."
    )
    folder.mkdir()
    (folder / "drill_gate_ran.npz").touch()
    with pytest.raises(DrillError) as raised:
        existing_drill("gate_run")
    assert raised.value.translate(shipped("es")).endswith("¿Querías decir gate_ran?")
