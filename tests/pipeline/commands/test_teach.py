"""The commands for drills: what is typed is read or refused, and what was taught is told."""

import json

import pytest
from click.testing import CliRunner

from pipeline.commands.drills import read_events, read_reps
from pipeline.commands.main import main
from pipeline.core.errors import DrillError
from pipeline.settings.checks import drill_names
from pipeline.teaching import teach
from pipeline.teaching.drill_store import load_drill, save_drill
from pipeline.teaching.teach import Taught
from tests.fixtures.drilling import drill_of, drill_player, frame_of

DRILL = drill_of(
    frame_of(drill_player())[0], name="lift", taught_on="2026-03-01", taught_by="Coach"
)
REPS = "0.8-2.6,4-5.8,6.9-8.7"


@pytest.fixture(autouse=True)
def _folder(tmp_path, monkeypatch):
    monkeypatch.setenv("CROSSEMETRY_DATA", str(tmp_path / "data"))


@pytest.fixture
def clip(tmp_path):
    (tmp_path / "film.clip.toml").write_text('stature_m = 1.8\nstick_hand = "right"\n')
    return str(tmp_path / "film.mp4")


@pytest.fixture
def asked(monkeypatch):
    """What teaching was asked for; it gives the drill of the stick figure."""
    got = {}

    def teach_from_clip(name, path, marked, settings, **options):
        got.update(name=name, marked=marked, settings=settings, **options)
        from dataclasses import replace

        return Taught(drill=replace(DRILL, name=name), again=4, elsewhere=())

    monkeypatch.setattr(teach, "teach_from_clip", teach_from_clip)
    return got


def run(*arguments):
    return CliRunner().invoke(main, arguments)


def test_reps_and_events_are_read():
    assert read_reps("12.4-14.1, 18-19.95") == ((12.4, 14.1), (18.0, 19.95))
    assert read_events(["release=13.6,19.5", "plant=13,19"]) == {
        "release": (13.6, 19.5),
        "plant": (13.0, 19.0),
    }


@pytest.mark.parametrize("text", ["", "3", "3-2", "a-b", "1-2;3-4", "1-inf", "-1-2", "1-2,"])
def test_reps_that_are_none_are_refused(text):
    with pytest.raises(DrillError, match="--reps"):
        read_reps(text)


@pytest.mark.parametrize(
    "texts", [["release"], ["=1"], ["release=a"], ["start=1"], ["a b=1"], ["x=1", "x=2"]]
)
def test_events_that_are_none_are_refused(texts):
    with pytest.raises(DrillError, match="--events"):
        read_events(texts)


def test_a_drill_is_taught_listed_and_forgotten(clip, asked):
    result = run("teach", "gate_run", clip, "--reps", REPS, "--events", "release=2,5.2,8.1",
                 "--like", "high_to_low_shot", "--by", "Coach")  # fmt: skip
    assert result.exit_code == 0, result.output
    assert "gate_run: taught from 4 reps; 4 of them found again" in result.output
    assert asked["like"] == "high_to_low_shot"
    assert asked["settings"].stick_hand == "right"
    assert asked["marked"].windows_s[0] == (0.8, 2.6)
    listed = json.loads(run("drills", "--json").output)["drills"]
    assert [drill["name"] for drill in listed] == ["gate_run"]
    assert "gate_run: 4 examples, release" in run("drills").output
    assert run("drills", "forget", "GATE_RUN").output == "gate_run: forgotten.\n"
    assert drill_names() == ()
    assert "No drill was taught yet" in run("drills").output


def test_a_drill_is_not_taught_over_another_unless_told(clip, asked):
    save_drill(DRILL)
    result = run("teach", "LIFT", clip, "--reps", REPS)
    assert (result.exit_code, asked) == (2, {})
    assert "taught already" in result.stderr
    assert run("teach", "LIFT", clip, "--reps", REPS, "--replace").exit_code == 0
    assert drill_names() == ("LIFT",)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--reps", "x"], "--reps"),
        (["--reps", REPS, "--like", "split_doge"], "Did you mean split_dodge"),
        (["--reps", REPS, "--by", "x" * 61], "--by"),
        (["--reps", REPS, "--stature", "9"], "--stature"),
    ],
)
def test_what_is_typed_wrong_is_told_before_any_work(clip, asked, options, said):
    result = run("teach", "gate_run", clip, *options)
    assert result.exit_code == 2
    assert said in result.stderr
    assert (asked, drill_names()) == ({}, ())


def test_a_damaged_drill_does_not_hide_the_others(tmp_path):
    save_drill(DRILL)
    (tmp_path / "data" / "drills" / "drill_other.npz").write_bytes(b"nothing")
    result = run("drills")
    assert result.exit_code == 2
    assert "lift" in result.stdout
    assert "damaged" in result.stderr


def test_a_drill_with_ranges_is_not_forgotten():
    save_drill(DRILL)
    set_ = run("targets", "set", "lift", "release_height_m", "--low", "1", "--by", "me",
               "--why", "tall")  # fmt: skip
    assert set_.exit_code == 0, set_.output
    result = run("drills", "forget", "lift")
    assert result.exit_code == 2
    assert "ranges are set" in result.stderr
    assert load_drill("lift").name == "lift"


def test_a_drill_is_a_move_that_can_be_asked_for(tmp_path):
    save_drill(DRILL)
    result = run("analyse", str(tmp_path / "none.mp4"), "--move", "lfit", "--stature", "1.8")
    assert "Did you mean lift?" in result.stderr
