"""The command that checks a film: what it prints, refuses, and finds to be wrong."""

import json

import av
import numpy as np
import pytest
from click.testing import CliRunner

from pipeline.commands.main import main
from pipeline.film.clip import open_clip
from tests.conftest import ROOT

SHOT = ROOT / "sample_clips" / "shot_adult.mp4"


def run(*arguments):
    return CliRunner().invoke(main, ["check", *map(str, arguments)])


def refused(result, *words):
    assert result.exit_code == 2
    assert result.stderr.count("\n") == 1
    for word in words:
        assert word in result.stderr
    assert result.stdout == ""


def test_what_cannot_be_checked_is_refused(tmp_path):
    (tmp_path / "film.mp4").write_text("no film")
    refused(run(tmp_path / "film.mp4"), "film.mp4", "not a film")
    refused(run(tmp_path / "none.mp4"), "none.mp4", "no such file")
    refused(run(SHOT, "--move", "high_low_shot"), "--move", "high_to_low_shot")
    refused(run(SHOT, "--stature", "180"), "--stature 180", "in metres")
    refused(run(SHOT, "--true-fps", "fast"), "--true-fps fast")


@pytest.mark.slow
def test_a_film_is_judged_and_nothing_is_written(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    result = run(SHOT.with_name("shot_left_hand.mp4"), "--json")
    assert result.exit_code == 0
    findings = {entry["key"]: entry for entry in json.loads(result.stdout)["findings"]}
    could_be_better = {k for k, f in findings.items() if f["verdict"] == "could be better"}
    assert could_be_better == {"frame_rate", "view"}
    assert {f["verdict"] for f in findings.values()} == {"fine", "could be better"}
    assert not list(tmp_path.iterdir())


@pytest.mark.slow
def test_what_was_spoiled_in_a_film_is_named(tmp_path):
    path = tmp_path / "spoiled.mp4"
    rng = np.random.default_rng(1)
    with open_clip(SHOT) as reader, av.open(str(path), "w") as film:
        stream = film.add_stream("libx264", rate=15, options={"preset": "ultrafast", "g": "15"})
        stream.width, stream.height, stream.pix_fmt = 1200, 440, "yuv420p"
        for frame in reader:
            if frame.index % 4:
                continue
            x, y = rng.integers(0, 40, 2)
            spoiled = frame.rgb[y : y + 440, x : x + 1200] // 4  # shaken, dim, without feet
            film.mux(stream.encode(av.VideoFrame.from_ndarray(spoiled, format="rgb24")))
            if frame.index > 300:
                break
        film.mux(stream.encode())
    result = run(path, "--move", "high_to_low_shot", "--json")
    assert result.exit_code == 0
    findings = {entry["key"]: entry for entry in json.loads(result.stdout)["findings"]}
    for key in ("feet_in_view", "frame_rate"):
        assert findings[key]["verdict"] == "will not do", key
        assert findings[key]["what_to_do"]
        assert findings[key]["missing"]
    # A shake of some pixels can be steadied, at the cost of some certainty.
    assert findings["camera_still"]["verdict"] == "could be better"
    assert findings["camera_still"]["what_to_do"]
    assert findings["camera_still"]["unsure"]
    assert findings["light"]["verdict"] in ("could be better", "will not do")
    assert findings["person"]["verdict"] == "fine"
