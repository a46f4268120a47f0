"""The command line on its own: the analysis behind it is a stand-in that takes no time."""

import json
import re
import subprocess
import sys
import types
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from calibration.lens_file import lens_profile_text
from pipeline import __version__
from pipeline.commands.main import PLACES, main
from pipeline.commands.targets import targets
from pipeline.core.errors import ModelError, UnreadableClip
from pipeline.core.files import VARIABLE
from pipeline.core.progress import Progress
from pipeline.core.results import (
    Analysis,
    Measurement,
    RepResult,
    SessionPoint,
    SessionSummary,
    TargetRange,
    Verdict,
)
from pipeline.core.types import Clip, Rep, Scene, SmoothTracks
from pipeline.targets.load import SHIPPED_TARGETS
from tests.fixtures.lenses import PHONE


def made_up_analysis(path, settings):
    one = np.ones(1)
    key = "hand_height_before_release_m"
    target = TargetRange(
        key=key, unit="m", low=1.69, high=2.16, words="0.94 to 1.2 of stature",
        set_by="shipped defaults", why="common practice, no source",
    )  # fmt: skip
    measured = Measurement(key=key, unit="m", value=1.812, u=0.02, interval95=(1.77, 1.85))
    hidden = Measurement(key="hand_drop_m", unit="m", reason="the hands were hidden")
    result = RepResult(
        rep=Rep(
            index=1, start_s=1.0, stop_s=3.0, start_frame=30, stop_frame=90,
            move=settings.move, stick_hand="right",
        ),
        measurements={key: measured, hidden.key: hidden},
        verdicts=(
            Verdict(key=key, word="in range", side=None, probability_inside=1.0, target=target),
        ),
        feedback=(),
        cautions=(),
    )  # fmt: skip
    return Analysis(
        clip=Clip(
            path=path, digest="0", width_px=1280, height_px=720, rotation_deg=0, mirrored=False,
            time_s=np.arange(100) / 30,
        ),
        level=settings.level, move=settings.move, stature_m=settings.stature_m,
        scene=Scene(
            grade="B", focal_px=one, pitch_deg=one, roll_deg=one, height_m=one,
            principal_px=np.ones(2), stature_m=one, body_scale=one,
        ),
        tracks=SmoothTracks(
            model="full",
            time_s=np.arange(100) / 30, image_px=np.ones((1, 100, 23, 2)),
            body_m=np.ones((1, 100, 23, 3)), noise_px=np.ones((1, 100, 23)),
            overlapped=np.zeros((1, 100), bool),
        ),
        reps=(result,), cautions=(), notes=("The picture is dark.",),
        session=SessionSummary(
            work_on=SessionPoint(move=settings.move, key=key, side="low", text="Hands higher.")
        ),
    )  # fmt: skip


@pytest.fixture
def stand_in(monkeypatch):
    """Replace the analysis; gives the list of calls it got."""
    calls = []

    def analyse_clip(path, settings, *, cache_dir, on_progress, on_findings):
        calls.append((path, settings, cache_dir))
        on_progress(Progress(stage="following_players", done=1, total=2))
        if "bad" in path.name:
            raise UnreadableClip(f"{path.name}: not a video.", what_to_do="Send the original.")
        if "broken" in path.name:
            raise ZeroDivisionError("by zero")
        if "no model" in path.name:
            raise ModelError("The pose model is missing.", what_to_do="Install again.")
        return made_up_analysis(path, settings)

    def write_analysis(analysis, out_dir, *, settings, cache_dir):
        folder = out_dir / analysis.clip.path.stem
        folder.mkdir()
        table = folder / "reps.json"
        table.write_text(json.dumps({"clip": {"name": analysis.clip.path.name}, "reps": []}))
        return [folder / "report.html", table]

    module = types.ModuleType("pipeline.analysis")
    module.analyse_clip, module.write_analysis = analyse_clip, write_analysis
    monkeypatch.setattr("pipeline.commands.analyse.default_workers", lambda n_clips: 1)
    monkeypatch.setitem(sys.modules, "pipeline.analysis", module)
    return calls


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: CliRunner().invoke(main, arguments)


GIVEN = ("--stature", "1.80", "--move", "high_to_low_shot")


def test_summary_names_numbers_their_doubt_and_the_report(stand_in, run):
    result = run("analyse", "clip.mp4", *GIVEN)
    assert result.exit_code == 0, result.stderr
    assert "clip.mp4: 1 rep of high-to-low shot" in result.stdout
    assert re.search(r"before the shot +1\.81 m +0\.04 m +in range\n", result.stdout)
    assert "The picture is dark." in result.stdout
    assert "  session: Hands higher." in result.stdout
    assert f"report: {Path('out/clip/report.html')}" in result.stdout
    assert result.stderr == ""


@pytest.mark.parametrize(("options", "is_asked"), [((), False), (("--explain",), True)])
def test_explaining_is_done_when_it_is_asked_for(stand_in, run, options, is_asked):
    run("analyse", "clip.mp4", *GIVEN, *options)
    ((_path, settings, _cache),) = stand_in
    assert settings.explain is is_asked


def test_results_and_cache_go_to_the_default_folders(stand_in, run):
    run("analyse", "clip.mp4", *GIVEN)
    ((_path, _settings, cache_dir),) = stand_in
    assert cache_dir == Path("out/.cache")


def test_side_file_is_used_where_an_option_is_absent(stand_in, run, tmp_path):
    (tmp_path / "clip.clip.toml").write_text('stature_m = 1.5\nmove = "throwback_pass"\n')
    run("analyse", "clip.mp4", "--level", "youth", "--stature", "1.55")
    ((_path, settings, _cache),) = stand_in
    assert (settings.stature_m, settings.move, settings.level) == (1.55, "throwback_pass", "youth")


def test_every_option_reaches_the_analysis(stand_in, run):
    run(
        "analyse", "clip.mp4", *GIVEN, "--fov-deg", "70", "--true-fps", "240",
        "--athlete-at", "10,20", "--model", "m.task", "--targets", str(SHIPPED_TARGETS),
        "--show-faces", "--cache", "c", "--level", "adult", "--age", "18",
        "--athlete", " Player 7 ", "--no-log",
    )  # fmt: skip
    ((_path, settings, cache_dir),) = stand_in
    assert settings.fov_deg == 70
    assert settings.true_fps == 240
    assert settings.athlete_at == (10, 20)
    assert (settings.model, settings.targets_path) == ("m.task", SHIPPED_TARGETS)
    assert settings.hide_faces is False
    assert (settings.level, settings.athlete) == ("adult", "Player 7")
    assert settings.age_years == 18
    assert cache_dir == Path("c")


def test_one_bad_clip_is_one_line_and_the_others_go_on(stand_in, run):
    result = run("analyse", "bad.mp4", "good.mp4", *GIVEN)
    assert result.exit_code == 2
    errors = [line for line in result.stderr.splitlines() if "of 2 clips" not in line]
    assert errors == ["bad.mp4: not a video. Send the original."]
    assert "good.mp4: 1 rep" in result.stdout


@pytest.mark.parametrize(
    ("clip", "code", "says"),
    [
        ("no model.mp4", 1, "no model.mp4: The pose model is missing. Install again."),
        ("broken.mp4", 1, "broken.mp4: failed inside the program (ZeroDivisionError: by zero)."),
    ],
)
def test_other_failures_exit_with_1_and_no_traceback(stand_in, run, clip, code, says):
    result = run("analyse", clip, *GIVEN)
    assert result.exit_code == code
    assert result.stderr.startswith(says)
    assert result.stderr.count("\n") == 1


def test_quiet_prints_errors_alone_and_the_exit_code_tells(stand_in, run):
    good = run("analyse", "clip.mp4", *GIVEN, "--quiet")
    assert (good.exit_code, good.output) == (0, "")
    bad = run("analyse", "bad.mp4", "other.mp4", *GIVEN, "--quiet")
    assert (bad.exit_code, bad.stdout) == (2, "")
    assert bad.stderr == "bad.mp4: not a video. Send the original.\n"


def test_quiet_still_gives_the_json_that_was_asked_for(stand_in, run):
    result = run("analyse", "clip.mp4", *GIVEN, "--quiet", "--json")
    assert json.loads(result.stdout)["clip"]["name"] == "clip.mp4"
    assert result.stderr == ""


def test_help_tells_the_exit_codes(run):
    text = run("analyse", "--help").stdout
    assert re.search(r"Exit code:\n +0 .*\n +2 .*\n +1 ", text)


@pytest.mark.parametrize(("language", "head"), [("en", "Commands:"), ("es", "Comandos:")])
def test_each_command_is_told_in_one_whole_line_of_eighty_columns(run, monkeypatch, language, head):
    monkeypatch.setenv("CROSSEMETRY_LANGUAGE", language)
    listed = run("--help").stdout.split(head)[1]
    assert set(re.findall(r"^  (\w+)", listed, re.MULTILINE)) == set(PLACES)
    for line in listed.strip().splitlines():
        assert len(line) <= 80
        assert line.endswith(".")
        assert not line.endswith("...")


def test_debug_shows_where_it_arose(stand_in, run):
    result = run("analyse", "broken.mp4", *GIVEN, "--debug")
    assert "Traceback" in result.stderr


def test_json_is_the_results_file_and_nothing_else(stand_in, run):
    one = run("analyse", "a.mp4", *GIVEN, "--json")
    assert json.loads(one.stdout)["clip"]["name"] == "a.mp4"
    several = run("analyse", "b.mp4", "bad.mp4", "c.mp4", *GIVEN, "--json")
    assert [item["clip"]["name"] for item in json.loads(several.stdout)] == ["b.mp4", "c.mp4"]
    assert several.exit_code == 2
    nothing = run("analyse", "bad.mp4", *GIVEN, "--json")
    assert nothing.stdout == ""


@pytest.mark.parametrize(
    "options", [("--stature", "900"), ("--stature", "tall"), ("--move", "x"), ("--age", "old")]
)
def test_wrong_options_stop_before_anything_is_done(stand_in, run, options, tmp_path):
    result = run("analyse", "a.mp4", "b.mp4", *GIVEN, *options)
    assert result.exit_code == 2
    assert result.stderr.count("\n") == 1
    assert options[0] in result.stderr
    assert stand_in == []
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("--cluster", "tcp://x:1", "--workers", "2"), "--workers is for this machine"),
        (("--send", "films"), "--send: nothing is sent without --cluster."),
        (("--workers", "0"), "'--workers'"),
        (("empty",), "no film is in this folder"),
    ],
)
def test_options_for_several_clips_are_checked_first(stand_in, run, tmp_path, options, says):
    (tmp_path / "empty").mkdir()
    result = run("analyse", "a.mp4", *GIVEN, *options)
    assert result.exit_code == 2
    assert says in result.stderr
    assert stand_in == []


def test_folder_that_cannot_be_written_is_told_before_the_analysis(stand_in, run, tmp_path):
    (tmp_path / "taken").write_text("a file")
    result = run("analyse", "a.mp4", *GIVEN, "--out", "taken")
    assert result.exit_code == 1
    assert "--out" in result.stderr
    assert stand_in == []


def test_two_clips_of_one_name_do_not_overwrite_each_other(stand_in, run):
    result = run("analyse", "x/a.mp4", "y/A.mov", *GIVEN)
    assert result.exit_code == 2
    assert result.stderr.startswith("A.mov: another clip of this run has the same name.")
    assert len(stand_in) == 1


def test_mistake_in_the_targets_of_the_data_folder_is_told_too(
    stand_in, run, tmp_path, monkeypatch
):
    monkeypatch.setenv(VARIABLE, str(tmp_path))
    (tmp_path / "targets.toml").write_text("nonsense = 1\n")
    result = run("analyse", "a.mp4", *GIVEN)
    assert (result.exit_code, stand_in) == (2, [])
    assert result.stderr.startswith("targets.toml, line 1")


def test_mistake_in_the_targets_is_told_once_and_before_the_analysis(stand_in, run, tmp_path):
    (tmp_path / "mine.toml").write_text("nonsense = 1\n")
    result = run("analyse", "a.mp4", "b.mp4", *GIVEN, "--targets", "mine.toml")
    assert result.exit_code == 2
    assert result.stderr.startswith("mine.toml, line 1")
    assert result.stderr.count("\n") == 1
    assert stand_in == []


def test_version(run):
    assert run("--version").stdout == f"crossemetry {__version__}\n"


@pytest.mark.parametrize(
    "command",
    [
        (), ("analyse",), ("targets",), *(("targets", name) for name in targets.commands),
        ("calibrate",), ("calibrate", "board"), ("calibrate", "lens"), ("export",),
        ("completion",),
    ],
)  # fmt: skip
def test_every_help_has_an_example(run, command):
    for flag in ("-h", "--help"):
        result = run(*command, flag)
        assert result.exit_code == 0
        assert "Example:\n      crossemetry " in result.stdout


@pytest.mark.slow
@pytest.mark.parametrize(
    "command",
    ["", "analyse", "calibrate lens", "targets suggest", "export", "completion", "completion bash"],
)
def test_help_loads_nothing_slow(command):
    code = (
        "import sys; from pipeline.commands.main import main\n"
        "try: main(sys.argv[1:])\n"
        "except SystemExit: pass\n"
        "slow = {'mediapipe', 'scipy', 'cv2', 'av', 'sklearn', 'pydantic', 'jinja2', 'numpy'}\n"
        "slow |= {'PIL', 'pyarrow', 'ezc3d', 'rich', 'pandas', 'sqlalchemy', 'alembic'}\n"
        "sys.exit(' '.join(slow & set(sys.modules)) or None)"
    )
    words = [sys.executable, "-c", code, *command.split(), "--help"]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_the_list_of_commands_imports_none_of_them():
    code = (
        "import sys; from pipeline.commands.main import PLACES, main\n"
        "try: main(['--help'])\n"
        "except SystemExit: pass\n"
        "commands = {place.partition(':')[0] for place in PLACES.values()}\n"
        "sys.exit(' '.join(commands & set(sys.modules)) or None)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert all(name in done.stdout for name in PLACES)


def test_an_unknown_command_is_refused_by_its_name(run):
    result = run("analise")
    assert result.exit_code == 2
    assert "No such command 'analise'" in result.stderr


def test_a_lens_profile_reaches_the_analysis(stand_in, run, tmp_path):
    (tmp_path / "phone.toml").write_text(lens_profile_text(PHONE), encoding="utf-8")
    assert run("analyse", "a.mp4", *GIVEN, "--lens", "phone.toml").exit_code == 0
    ((_path, settings, _cache),) = stand_in
    assert (settings.lens_path, settings.fov_deg) == (Path("phone.toml"), None)


def test_two_ways_to_say_how_wide_the_camera_sees_are_refused(stand_in, run, tmp_path):
    (tmp_path / "phone.toml").write_text(lens_profile_text(PHONE), encoding="utf-8")
    result = run("analyse", "a.mp4", *GIVEN, "--lens", "phone.toml", "--fov-deg", "70")
    assert result.exit_code == 2
    assert result.stderr.startswith("--lens and --fov-deg both say how wide the camera sees.")
    assert stand_in == []


def test_mistake_in_the_lens_profile_is_told_once_and_before_the_analysis(stand_in, run, tmp_path):
    (tmp_path / "phone.toml").write_text("nonsense = 1\n")
    for name in ("phone.toml", "none.toml"):
        result = run("analyse", "a.mp4", "b.mp4", *GIVEN, "--lens", name)
        assert result.exit_code == 2
        assert result.stderr.startswith(f"{name}: ")
        assert result.stderr.count("\n") == 1
    assert stand_in == []


MARKS = 'schema = "crossemetry.marks/1"\nmarks = []\n'


def test_marks_reach_the_analysis_of_one_clip(stand_in, run, tmp_path):
    (tmp_path / "marks.toml").write_text(MARKS)
    assert run("analyse", "a.mp4", *GIVEN, "--marks", "marks.toml").exit_code == 0
    ((_path, settings, _cache),) = stand_in
    assert settings.marks_path == Path("marks.toml")


def test_marks_for_several_clips_belong_into_their_side_files(stand_in, run, tmp_path):
    (tmp_path / "marks.toml").write_text(MARKS)
    result = run("analyse", "a.mp4", "b.mp4", *GIVEN, "--marks", "marks.toml")
    assert result.exit_code == 2
    assert result.stderr.startswith("--marks is for one clip")
    assert "NAME.clip.toml" in result.stderr
    assert stand_in == []


def test_mistake_in_the_marks_is_told_before_the_analysis(stand_in, run, tmp_path):
    (tmp_path / "marks.toml").write_text(MARKS.replace("marks/1", "marks/9"))
    result = run("analyse", "a.mp4", *GIVEN, "--marks", "marks.toml")
    assert result.exit_code == 2
    assert result.stderr.startswith("marks.toml, schema: ")
    assert stand_in == []
