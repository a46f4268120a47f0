"""The command that opens the page: what it refuses before, and what it says after."""

import io

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from calibration.marks_file import marks_text
from pipeline.commands.main import main
from pipeline.web import server
from pipeline.web.field import app
from tests.fixtures.field_picture import draw_cone, field_picture
from tests.pipeline.web.field.conftest import CAMERA, marks_seen


@pytest.fixture
def film(write_film):
    rgb = field_picture(640, 360)
    draw_cone(rgb, (300, 300), 40)
    return write_film("shot.mp4", [rgb, rgb])


@pytest.fixture
def served(monkeypatch):
    """Whatever is served, and what the person at the browser does: saves, if told to."""
    seen = {}

    def make_app(field, *, stop, on_saved):
        seen.update(field=field, on_saved=on_saved)

    def serve(make, *, on_ready):
        make(lambda: None)
        on_ready("http://127.0.0.1:1/start?token=t")
        if "saves" in seen:
            seen["on_saved"]()
        if "interrupted" in seen:
            raise KeyboardInterrupt

    monkeypatch.setattr(app, "make_app", make_app)
    monkeypatch.setattr(server, "serve_on_loopback", serve)
    return seen


def run(*arguments):
    return CliRunner().invoke(main, ["calibrate", "field", *map(str, arguments), "--no-browser"])


def test_the_address_is_printed_and_the_first_frame_is_shown_upright(write_film, served):
    rgb = field_picture(640, 360)
    film = write_film("side.mp4", [rgb], rotation_deg=90)
    result = run(film)
    assert result.exit_code == 0, result.stderr
    assert "http://127.0.0.1:1/start?token=t" in result.stdout
    assert "Nothing was saved" in result.stderr
    shown = np.asarray(Image.open(io.BytesIO(served["field"].picture)))
    assert shown.shape[:2] == (640, 360)
    assert served["field"].size_px == (360, 640)
    assert served["field"].out == film.with_name("side.marks.toml")


def test_cones_are_proposed_and_what_was_saved_is_told(film, served, tmp_path):
    served["saves"] = True
    result = run(film, "--out", tmp_path / "m.toml", "--goal", "box", "--fov-deg", "70")
    assert "--marks" in result.stdout
    field = served["field"]
    (proposal,) = field.proposals
    assert np.linalg.norm(np.subtract(proposal.image_px, (300, 300))) < 3
    assert (field.goal, field.fov_deg) == ("box", 70.0)


def test_marks_that_stand_there_are_shown_again(film, served, tmp_path):
    marks = marks_seen(CAMERA)
    (tmp_path / "m.toml").write_text(marks_text(marks), encoding="utf-8")
    run(film, "--out", tmp_path / "m.toml")
    assert served["field"].marks == tuple(marks)


def test_ctrl_c_ends_it_without_saving(film, served):
    served["interrupted"] = True
    result = run(film)
    assert result.exit_code == 0
    assert "Nothing was saved" in result.stderr


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("--goal", "6x7"), "--goal 6x7: not a size that is known. Did you mean 6x6?"),
        (("--out", "marks.mp4"), "marks are a TOML file"),
        (("--out", "nowhere/marks.toml"), "folder does not exist"),
        (("--fov-deg", "700"), "--fov-deg"),
        (("--lens", "none.toml"), "none.toml"),
    ],
)
def test_what_cannot_be_used_is_told_before_anything_is_shown(film, served, options, says):
    result = run(film, *options)
    assert result.exit_code in (1, 2)
    assert says in result.stderr
    assert "field" not in served


def test_a_file_that_holds_no_marks_is_never_replaced(film, served, tmp_path):
    path = tmp_path / "shot.clip.toml"
    path.write_text("stature_m = 1.8\n", encoding="utf-8")
    result = run(film, "--out", path)
    assert result.exit_code == 2
    assert "shot.clip.toml" in result.stderr
    assert "field" not in served


def test_a_film_that_is_none_is_told(tmp_path, served):
    path = tmp_path / "empty.mp4"
    path.write_bytes(b"")
    assert "empty.mp4" in run(path).stderr
