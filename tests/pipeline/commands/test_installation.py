import shutil
import subprocess

import pytest
from click.testing import CliRunner

from models import MODELS
from pipeline.commands.installation import SHELLS
from pipeline.commands.main import main
from pipeline.core.files import VARIABLE
from pipeline.settings.checks import LEVELS, known_move_names


def offered(*words):
    """What the Tab key offers after these words, the last of them begun: (kind, text)."""
    answer = CliRunner().invoke(
        main,
        prog_name="crossemetry",
        env={
            "_CROSSEMETRY_COMPLETE": "bash_complete",
            "COMP_WORDS": " ".join(("crossemetry", *words)),
            "COMP_CWORD": str(len(words)),
        },
    )
    return [tuple(line.split(",", 1)) for line in answer.stdout.splitlines()]


def texts(*words):
    return [text for _, text in offered(*words)]


@pytest.mark.parametrize("shell", SHELLS)
def test_a_script_is_printed_for_each_shell(shell):
    result = CliRunner().invoke(main, ["completion", shell])
    assert result.exit_code == 0
    assert f"_CROSSEMETRY_COMPLETE={shell}_complete" in result.stdout
    assert result.stderr == ""


@pytest.mark.parametrize("shell", SHELLS)
def test_the_shell_can_read_its_script(shell, tmp_path):
    if shutil.which(shell) is None:
        pytest.skip(f"no {shell} on this machine")
    script = tmp_path / "script"
    script.write_text(CliRunner().invoke(main, ["completion", shell]).stdout, encoding="utf-8")
    done = subprocess.run([shell, "-n", script], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")


def test_another_shell_is_refused_with_those_that_are_known():
    result = CliRunner().invoke(main, ["completion", "abc"])
    assert result.exit_code == 2
    for shell in SHELLS:
        assert shell in result.stderr


@pytest.mark.parametrize("command", ["analyse", "export", "check"])
def test_moves_are_completed(command):
    assert texts(command, "--move", "thr") == ["throwback_pass"]
    begun = [name for name in known_move_names() if name.startswith("s")]
    assert texts(command, "--move", "s") == begun
    assert len(begun) > 1


def test_drills_that_were_taught_are_completed_too(tmp_path, monkeypatch):
    monkeypatch.setenv(VARIABLE, str(tmp_path))
    (tmp_path / "drills").mkdir()
    (tmp_path / "drills" / "drill_gate_run.npz").touch()
    assert "gate_run" in known_move_names()
    assert texts("analyse", "--move", "ga") == ["gate_run"]


def test_pose_models_are_completed_and_files_too():
    assert texts("analyse", "--model", "") == list(MODELS)
    assert texts("analyse", "--model", "h") == ["heavy"]
    assert [kind for kind, _ in offered("analyse", "--model", "my/")] == ["file"]


def test_levels_commands_formats_and_options_are_completed():
    assert texts("analyse", "--level", "y") == ["youth"]
    assert set(LEVELS) == set(texts("targets", "show", "--level", ""))
    assert texts("exp") == ["export"]
    assert texts("export", "clip.mp4", "--format", "p") == ["parquet"]
    assert texts("analyse", "--sta") == ["--stature"]


def test_file_names_are_left_to_the_shell():
    assert offered("analyse", "my") == [("file", "my")]
    assert offered("analyse", "--lens", "my") == [("file", "my")]
