"""What the documents say is what the program does."""

import doctest
import io
import json
import re
import shlex
import webbrowser
from pathlib import Path

import jsonschema
import numpy as np
import pyarrow.compute as pc
import pytest
from click.testing import CliRunner
from pyarrow import parquet

from pipeline.commands.main import main
from pipeline.core.files import VARIABLE
from pipeline.core.move_table import known_moves
from pipeline.measures import MEASURES
from pipeline.people import landmarks
from pipeline.settings.side_file import read_side_file
from pipeline.targets.load import load_targets
from pipeline.teaching import correct
from pipeline.teaching.drill_store import save_drill
from pipeline.web import server
from tests.documents import DOCUMENTS, PARTS, help_text, up_to_date
from tests.fixtures.board_film import good_pictures
from tests.fixtures.corrected import moments, write_reps
from tests.fixtures.drilling import drill_of, drill_player, frame_of
from tests.fixtures.results import write_results

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def block(kind, containing):
    (found,) = [
        text
        for text in re.findall(rf"```{kind}\n(.*?)```", README, re.DOTALL)
        if containing in text
    ]
    return found


def words_of(text):
    """Give the words of a document without layout and brackets: click changes these."""
    return re.findall(r"[^\s\[\]]+", text)


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.name)
def test_generated_parts_of_the_documents_are_current(document):
    written = document.read_text(encoding="utf-8")
    assert words_of(up_to_date(document)) == words_of(written), "run: make readme"
    for part in {*DOCUMENTS[document]} - {"command line"}:
        assert PARTS[part]() in written, "run: make readme"


def test_example_results_follow_the_schema():
    schema = json.loads((ROOT / "pipeline/report/reps.schema.json").read_text(encoding="utf-8"))
    jsonschema.validate(json.loads(block("json", "crossemetry.reps/1")), schema)


def test_example_of_target_ranges_can_be_used(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(block("toml", "set_by"), encoding="utf-8")
    ranges = load_targets(path).for_athlete("high_to_low_shot", "school", 1.8)
    assert ranges["hand_height_before_release_m"].low == pytest.approx(1.8)
    height = ranges["hand_height_before_release_m"]
    assert height.set_by == "coach of the spring camp and shipped defaults"
    own = load_targets(path).for_athlete("throwback_pass", "any", 1.8, athlete="K. M.")
    assert (own["step_back_m"].low, own["step_back_m"].high) == (0.5, None)


def test_example_of_a_side_file_can_be_used(tmp_path):
    (tmp_path / "NAME.clip.toml").write_text(block("toml", "barefoot"), encoding="utf-8")
    assert read_side_file(tmp_path / "NAME.mp4").move == "throwback_pass"


EXAMPLES = sorted(set(re.findall(r"Example:\n +crossemetry (.*)", help_text())))


LOG_EXAMPLES = ("log ", "athlete ", "limits ", "volume", "trend ")


def fill_log():
    """Somebody has thrown already."""
    for words in (
        ["athlete", "add", "K. M.", "--birth-year", "2013", "--consent-by", "a parent"],
        [
            "log",
            "add",
            "--athlete",
            "K. M.",
            "--throws",
            "90",
            "--minutes",
            "30",
            "--exertion",
            "4",
        ],
    ):
        assert CliRunner().invoke(main, words).exit_code == 0


@pytest.mark.clip
@pytest.mark.parametrize("example", EXAMPLES)
def test_examples_of_the_help_run_as_they_stand(example, monkeypatch, tmp_path, write_film):
    # Run beside the checkout, so that the results do not land in it; one clip stands for all.
    if "board.mp4" in example:
        pictures = [np.repeat(picture[..., None], 3, axis=2) for picture in good_pictures()]
        write_film("board.mp4", pictures, times_s=[0.25 * i for i in range(len(pictures))])
    for name in ("sample_clips", "pipeline"):
        (tmp_path / name).symlink_to(ROOT / name)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv(VARIABLE, str(tmp_path / "kept"))
    if "targets undo" in example:
        change = "targets set throwback_pass step_back_m --low 0.5 --by me --why test"
        assert CliRunner().invoke(main, change.split()).exit_code == 0
    if "drills forget" in example:
        save_drill(drill_of(frame_of(drill_player())[0], name="fake_and_drop"))
    if example.startswith("corrections "):
        monkeypatch.setattr(correct, "_moments", lambda *_: moments())
        write_reps(tmp_path / "out" / "my_clip" / "reps.json")
        first = ["add out/my_clip/reps.json --rep 1 --by me", "retrain --anyway --by me"]
        for change in first[: {"retrain": 1, "undo": 2}.get(example.split()[1], 0)]:
            assert CliRunner().invoke(main, ["corrections", *change.split()]).exit_code == 0
    if example.startswith(LOG_EXAMPLES) and "athlete add" not in example:
        fill_log()
    if "out/good" in example:
        write_results(
            tmp_path / "out" / "good", [{"step_back_m": 0.6 + 0.01 * i} for i in range(10)]
        )
    # A page is served until somebody is done with it; here nobody comes.
    monkeypatch.setattr(server, "serve_on_loopback", lambda _, on_ready, **others: on_ready("here"))
    monkeypatch.setattr(webbrowser, "open", lambda _: True)
    arguments = []
    for word in shlex.split(example):
        arguments += sorted(map(str, Path().glob(word)))[:1] if "*" in word else [word]
    result = CliRunner().invoke(main, arguments)
    assert result.exit_code == 0, result.stderr
    assert result.stdout


@pytest.mark.parametrize("term", [*MEASURES, *known_moves()])
def test_every_measure_and_move_is_in_the_glossary(term):
    glossary = DEVELOPERS.split("## Glossary")[1]
    assert f"`{term}`" in glossary


@pytest.mark.clip
def test_python_example_gives_what_it_shows_and_its_landmarks_are_exported(monkeypatch, tmp_path):
    (tmp_path / "sample_clips").symlink_to(ROOT / "sample_clips")
    monkeypatch.chdir(tmp_path)
    example = doctest.DocTestParser().get_doctest(
        block("python", "analyse("), {}, "README.md", None, None
    )
    said = io.StringIO()
    assert len(example.examples) > 5
    assert doctest.DocTestRunner().run(example, out=said.write).failed == 0, said.getvalue()
    monkeypatch.setattr(landmarks, "follow_people", None)  # what is cached is not watched again
    clip, formats = "sample_clips/shot_left_hand.mp4", ("parquet", "c3d", "csv", "json")
    options = [word for name in formats for word in ("--format", name)]
    result = CliRunner().invoke(main, ["export", clip, *options])
    assert result.exit_code == 0, result.stderr
    joints = parquet.read_table(tmp_path / "out" / "shot_left_hand" / "joints.parquet")
    heights_m = joints.filter(pc.field("joint") == "nose").column("z_m").to_numpy()
    assert 1.5 < np.nanmedian(heights_m) < 1.88
