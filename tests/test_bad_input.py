"""What people really hand in, through the command line: a clear sentence, or an honest blank."""

import itertools
import json
import os

import av
import numpy as np
import pytest
from click.testing import CliRunner

from pipeline.commands.main import main

GIVEN = ("--stature", "1.80", "--move", "high_to_low_shot")


@pytest.fixture
def run(tmp_path):
    return lambda *arguments: CliRunner().invoke(
        main, ["analyse", *map(str, arguments), *GIVEN, "--out", str(tmp_path / "out")]
    )


@pytest.fixture(scope="module")
def players(sample_clips):
    """First twelve frames of a sample clip."""
    with av.open(str(sample_clips[0])) as film:
        first = itertools.islice(film.decode(video=0), 12)
        return [frame.to_ndarray(format="rgb24") for frame in first]


@pytest.fixture(scope="module")
def noise():
    """Forty frames that cannot be packed small, so that a cut in the file cuts frames."""
    rng = np.random.default_rng(1)
    return [rng.integers(0, 255, (120, 160, 3), np.uint8) for _ in range(40)]


def refused(result, *words):
    """A refusal: exit code 2, one line that names what was wrong, and no traceback."""
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.count("\n") == 1
    assert "failed inside" not in result.stderr
    for word in words:
        assert word in result.stderr


def answered(result, folder):
    """An answer: each measure has a value or a reason, and it says so when there is no rep."""
    assert result.exit_code == 0, result.stderr
    for line in result.stderr.splitlines():  # nothing but what the film check found
        assert line.startswith("  ") or "things looked at" in line
    answer = json.loads((folder / "reps.json").read_text(encoding="utf-8"))
    assert (folder / "report.html").stat().st_size > 0
    if not answer["reps"]:
        assert answer["clip"]["notes"], "no rep, and not a word on why"
    for rep in answer["reps"]:
        for measure in rep["measures"].values():
            assert (measure["value"] is None) != (measure["reason"] is None)
    return answer


def test_not_a_video(run, tmp_path):
    path = tmp_path / "notes.mp4"
    path.write_text("Practice starts at six.\n" * 100)
    refused(run(path), "notes.mp4")


def test_zero_bytes(run, tmp_path):
    path = tmp_path / "empty.mov"
    path.touch()
    refused(run(path), "empty.mov: the file is empty.")
    refused(run(path, "--language", "es"), "empty.mov: el archivo está vacío. Quizá no se copió")


def test_no_such_file(run, tmp_path):
    refused(run(tmp_path / "gone.mp4"), "gone.mp4")


def test_a_folder(run, tmp_path):
    (tmp_path / "clips.mp4").mkdir()
    refused(run(tmp_path / "clips.mp4"), "clips.mp4")


def test_sound_only(run, tmp_path):
    path = tmp_path / "memo.m4a"
    with av.open(str(path), "w") as sink:
        stream = sink.add_stream("aac", rate=44100)
        stream.layout = "mono"
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 1024), np.float32), "fltp", "mono")
        frame.rate = 44100
        sink.mux(stream.encode(frame))
        sink.mux(stream.encode(None))
    refused(run(path), "memo.m4a", "sound")


def test_cut_in_the_middle_without_its_index(run, write_film, noise):
    # A phone writes the index last: half of such a file cannot be read.
    path = write_film("half.mp4", noise)
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])
    refused(run(path), "half.mp4")


@pytest.mark.slow
def test_cut_in_the_middle_with_its_index_goes_as_far_as_it_can(run, write_film, noise, tmp_path):
    path = write_film("cut.mp4", noise, container_options={"movflags": "faststart"})
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])
    answer = answered(run(path), tmp_path / "out" / "cut")
    assert 0 < answer["clip"]["n_frames"] < 40
    assert any("could not be" in note or "lost" in note for note in answer["clip"]["notes"])


@pytest.mark.slow
def test_a_single_frame(run, write_film, players, tmp_path):
    answer = answered(run(write_film("one.mp4", players[:1])), tmp_path / "out" / "one")
    assert answer["reps"] == []


@pytest.mark.slow
def test_nobody_in_view(run, write_film, tmp_path):
    answer = answered(run(write_film("field.mp4", n_frames=40)), tmp_path / "out" / "field")
    assert answer["reps"] == []


@pytest.mark.slow
def test_four_people(run, write_film, players, tmp_path):
    tiles = [np.tile(frame[::2, ::2], (2, 2, 1)) for frame in players]
    answered(run(write_film("team.mp4", tiles)), tmp_path / "out" / "team")


@pytest.mark.slow
def test_a_very_small_picture(run, write_film, players, tmp_path):
    small = [np.ascontiguousarray(frame[::5, ::5][:134, :240]) for frame in players]
    answer = answered(run(write_film("small.mp4", small)), tmp_path / "out" / "small")
    told = " ".join(answer["clip"]["notes"])
    assert "pixels tall" in told or "Nobody was found" in told


@pytest.mark.slow
def test_portrait_in_4k_that_is_stored_lying_down(run, write_film, players, tmp_path):
    upright = []
    for frame in players[:4]:
        picture = np.zeros((3840, 2160, 3), np.uint8)
        picture[1000 : 1000 + frame.shape[0], 400 : 400 + frame.shape[1]] = frame
        upright.append(picture)
    stored = [np.ascontiguousarray(np.rot90(picture)) for picture in upright]
    path = write_film("tall.mp4", stored, rotation_deg=-90, options={"preset": "ultrafast"})
    answer = answered(run(path), tmp_path / "out" / "tall")
    assert (answer["clip"]["width_px"], answer["clip"]["height_px"]) == (2160, 3840)


@pytest.mark.slow
def test_a_name_with_spaces_and_signs_of_other_alphabets(run, write_film, tmp_path):
    path = write_film("Übung nº 3 射门.mp4", n_frames=6)
    answer = answered(run(path), tmp_path / "out" / "Übung nº 3 射门")
    assert answer["clip"]["name"] == "Übung nº 3 射门.mp4"


def test_a_file_where_the_output_folder_should_be(run, write_film, tmp_path):
    (tmp_path / "out").write_text("I was here first.")
    result = run(write_film(n_frames=3))
    assert result.exit_code == 1
    assert "--out" in result.stderr
    assert (tmp_path / "out").read_text() == "I was here first."


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere"
)
def test_a_folder_that_is_read_only(run, write_film, tmp_path):
    (tmp_path / "out").mkdir(mode=0o500)
    result = run(write_film(n_frames=3))
    assert result.exit_code == 1
    assert "--out" in result.stderr


@pytest.mark.parametrize("stature", ["0", "900", "tall"])
def test_impossible_statures(write_film, stature):
    result = CliRunner().invoke(
        main,
        ["analyse", str(write_film(n_frames=3)), "--move", GIVEN[-1], "--stature", stature],
    )
    refused(result, f"--stature {stature}", "e.g. 1.80")
