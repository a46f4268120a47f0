"""The commands that measure a lens, from a film to a profile, and what they refuse."""

import numpy as np
import pytest
from click.testing import CliRunner

from calibration.lens_file import read_lens_profile
from pipeline.commands.main import main
from pipeline.core.errors import OutputError
from tests.fixtures.board_film import SIZE_PX, TRUE_FOCAL_PX, good_pictures


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: CliRunner().invoke(main, ["calibrate", *arguments])


@pytest.fixture
def board_clip(write_film):
    pictures = [np.repeat(picture[..., None], 3, axis=2) for picture in good_pictures()]
    times_s = [0.25 * i for i in range(len(pictures))]
    return write_film("board.mp4", pictures, times_s=times_s, options={"crf": "18"})


def refused(result, *words):
    assert result.exit_code == 2
    assert result.stderr.count("\n") == 1
    for word in words:
        assert word in result.stderr
    assert result.stdout == ""


@pytest.mark.parametrize("name", ["board.pdf", "board.png"])
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_board_is_written(run, tmp_path, name, paper):
    result = run("board", "--out", name, "--paper", paper)
    assert result.exit_code == 0, result.stderr
    assert (tmp_path / name).stat().st_size > 1000
    assert f"{name}: print it at 100 %" in result.stdout
    assert "100 mm" in result.stdout


def test_a_paper_or_an_ending_that_is_not_known_is_refused(run, tmp_path):
    refused(run("board", "--out", "board.pdf", "--paper", "a3"), "--paper a3", "a4 or letter")
    for name in ("board.jpg", "board", "board.pdf.txt"):
        refused(run("board", "--out", name), name, ".pdf or .png")
    assert not list(tmp_path.iterdir())


@pytest.mark.slow
def test_from_a_film_of_the_board_to_a_profile(run, board_clip, tmp_path):
    result = run("lens", "board.mp4", "--out", "phone.toml", "--name", "drawn phone")
    assert result.exit_code == 0, result.stderr
    lens = read_lens_profile(tmp_path / "phone.toml")
    assert lens.focal_px == pytest.approx(TRUE_FOCAL_PX, rel=0.005)
    assert (lens.name, lens.width_px, lens.height_px) == ("drawn phone", *SIZE_PX)
    for words in (
        "board.mp4: board found in 24 of 24 pictures", "degrees along the long side", "k1 0.0",
        "of the picture covered", "reprojection", "by view", "profile: phone.toml",
    ):  # fmt: skip
        assert words in result.stdout


@pytest.mark.slow
def test_the_lens_is_told_in_spanish_too(run, board_clip, monkeypatch):
    monkeypatch.setenv("CROSSEMETRY_LANGUAGE", "es")
    said = run("lens", "board.mp4", "--out", "phone.toml").stdout
    assert "board.mp4: tablero encontrado en 24 de 24 imágenes" in said
    assert "k1 0,0" in said
    assert said.endswith("perfil: phone.toml\n")


@pytest.mark.slow
def test_a_profile_is_called_after_its_file_unless_told(run, board_clip, tmp_path):
    run("lens", "board.mp4", "--out", "my phone.toml")
    assert read_lens_profile(tmp_path / "my phone.toml").name == "my phone"


def test_a_film_without_the_board_is_refused_in_one_line(run, write_film, tmp_path):
    write_film("lawn.mp4", size_px=(320, 240))
    refused(run("lens", "lawn.mp4", "--out", "phone.toml"), "lawn.mp4: the board was not found")
    assert not (tmp_path / "phone.toml").exists()


def test_what_is_no_film_is_refused(run, tmp_path):
    (tmp_path / "board.mp4").write_text("no film")
    refused(run("lens", "board.mp4", "--out", "phone.toml"), "board.mp4")
    refused(run("lens", "none.mp4", "--out", "phone.toml"), "none.mp4")


@pytest.mark.parametrize("side", ["0", "wide", "-25", "nan", "inf"])
def test_a_square_that_cannot_be_is_refused(run, side):
    refused(run("lens", "none.mp4", "--out", "phone.toml", "--square-mm", side), "--square-mm")


@pytest.mark.slow
def test_a_slip_does_not_replace_the_film(run, board_clip):
    before = board_clip.read_bytes()
    refused(run("lens", "board.mp4", "--out", "board.mp4"), "--out board.mp4", "my_phone.toml")
    assert board_clip.read_bytes() == before


def test_a_folder_that_is_not_there_is_told_before_the_work(run):
    result = run("lens", "none.mp4", "--out", "none/phone.toml")
    assert result.exit_code == 1
    assert "--out" in result.stderr


def test_a_place_where_the_board_cannot_be_written_is_told(run, tmp_path):
    (tmp_path / "file").write_text("not a folder")
    for name in ("none/board.pdf", "file/board.png"):
        result = run("board", "--out", name)
        assert result.exit_code == OutputError.exit_code
        assert name in result.stderr
        assert "--out" in result.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["file"]
