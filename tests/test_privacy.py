"""Nothing leaves the machine: an analysis opens no socket, in Python or below it."""

import shutil
import socket
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from pipeline.commands.main import main

ROOT = Path(__file__).resolve().parent.parent
GIVEN = ("--stature", "1.80", "--move", "high_to_low_shot", "--model", "lite")


@pytest.fixture
def portrait(write_film, astronaut):
    return write_film("portrait.mp4", [astronaut] * 20)


@pytest.mark.slow
def test_analysis_works_where_sockets_are_forbidden(portrait, tmp_path, monkeypatch):
    def forbidden(*arguments, **options):
        raise AssertionError("a socket was asked for")

    for name in ("socket", "create_connection", "getaddrinfo"):
        monkeypatch.setattr(socket, name, forbidden)
    result = CliRunner().invoke(
        main, ["analyse", str(portrait), *GIVEN, "--out", str(tmp_path / "out")]
    )
    assert result.exit_code == 0, result.stderr


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not installed")
@pytest.mark.parametrize("n_clips", [1, 2])
def test_no_network_call_reaches_the_system(portrait, tmp_path, n_clips):
    """Neither in one process nor from the workers of a run over several clips."""
    trace = tmp_path / "trace"
    clips = [portrait, portrait.with_name("other.mp4")][:n_clips]
    if n_clips > 1:
        shutil.copy(portrait, clips[1])
    command = [sys.executable, "-m", "pipeline", "analyse", *map(str, clips), *GIVEN]
    command += ["--workers", str(n_clips)]
    done = subprocess.run(
        ["strace", "-f", "-qq", "-e", "trace=network", "-o", str(trace), *command,
         "--out", str(tmp_path / "out")],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    if "ptrace" in done.stderr.lower() and "not permitted" in done.stderr.lower():
        pytest.skip("strace may not watch processes here")
    assert done.returncode == 0, done.stderr
    calls = trace.read_text()
    # A pair of joined local sockets between a program's own threads leaves nothing.
    assert "AF_INET" not in calls
    assert "connect(" not in calls
