"""The commands that make film: what they refuse, and, on a real clip, what they write."""

import shutil

import av
import pytest
from click.testing import CliRunner

from pipeline.commands.main import main
from tests.conftest import ROOT

THROWBACK = ROOT / "sample_clips" / "throwback_youth.mp4"


def run(*arguments):
    return CliRunner().invoke(main, [str(each) for each in arguments])


def refused(result, *words):
    assert result.exit_code == 2
    assert result.stderr.count("\n") == 1
    for word in words:
        assert word in result.stderr


@pytest.mark.parametrize("command", ["overlay", "analyse"])
def test_faces_of_a_minor_are_not_shown_whoever_asks(tmp_path, command):
    given = (THROWBACK, "--show-faces", "--out", tmp_path)
    refused(run(command, *given, "--age", "17"), "17 years old", "stay hidden", "--show-faces")
    clip = tmp_path / "clip.mp4"
    shutil.copy(THROWBACK, clip)
    (tmp_path / "clip.clip.toml").write_text("stature_m = 1.5\nage_years = 12\n")
    refused(run(command, clip, "--show-faces", "--out", tmp_path), "clip.mp4", "12 years old")
    refused(
        run("compare", f"{clip}:1", f"{clip}:2", "--show-faces", "--out", tmp_path), "12 years old"
    )


def test_wrong_options_are_refused_at_once(tmp_path):
    refused(run("overlay", THROWBACK, "--stature", "180"), "--stature 180")
    refused(run("overlay", tmp_path / "none.mp4", "--stature", "1.8"), "none.mp4", "no such file")
    refused(run("compare", THROWBACK, THROWBACK), "does not say which rep")
    refused(run("compare", f"{THROWBACK}:best", f"{THROWBACK}:0x1"), "does not say which rep")


@pytest.mark.slow
def test_a_clip_is_filmed_and_two_of_its_reps_are_compared(tmp_path, kept_landmarks):
    shared = ("--out", tmp_path, "--cache", kept_landmarks, "--model", "full")
    analysed = run("analyse", THROWBACK, "--overlay", *shared)
    assert analysed.exit_code == 0, analysed.stderr
    film = tmp_path / "throwback_youth" / "overlay.mp4"
    assert f"film: {film}" in analysed.stdout
    with av.open(str(film)) as written:
        assert written.duration / 1e6 > 15
    compared = run("compare", f"{THROWBACK}:best", f"{THROWBACK}:latest", *shared)
    assert compared.exit_code == 0, compared.stderr
    assert "picked as the best" in compared.stdout
    assert "rep 3, the latest" in compared.stdout
    assert len(list(tmp_path.glob("*_rep_03.mp4"))) == 1
    refused(run("compare", f"{THROWBACK}:9", f"{THROWBACK}:1", *shared), "it has reps 1 to 3")
