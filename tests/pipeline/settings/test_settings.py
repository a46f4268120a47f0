from dataclasses import replace
from pathlib import Path

import pytest

from models import MODELS, bundle_path
from pipeline.core.errors import SettingsError
from pipeline.settings.checks import (
    check_age_years,
    check_athlete,
    check_field_of_view_deg,
    check_level,
    check_model,
    check_move,
    check_place_px,
    check_stature_m,
    check_true_rate_hz,
)
from pipeline.settings.settings import (
    GivenSettings,
    SideFile,
    resolve,
    settings_of_text,
    settings_text,
)

SIDE = SideFile(
    path=Path("a.clip.toml"), stature_m=1.62, move="throwback_pass", level="youth",
    stick_hand="left",
)  # fmt: skip


def test_command_line_beats_side_file_beats_default():
    given = GivenSettings(stature_m=1.80, level=None)
    settings = resolve(given, SIDE, clip_name="a.mp4")
    assert settings.stature_m == 1.80
    assert settings.level == "youth"
    assert settings.move == "throwback_pass"
    assert settings.stick_hand == "left"
    assert settings.hide_faces is True
    bare = resolve(
        GivenSettings(stature_m=1.80, move="close_gap_dodge"), SideFile(), clip_name="a.mp4"
    )
    assert bare.level == "any"
    assert bare.stick_hand is None


def test_without_a_stature_it_says_both_ways_to_give_it():
    with pytest.raises(SettingsError, match=r"a\.mp4.*--stature 1\.80.*a\.clip\.toml"):
        resolve(GivenSettings(move="throwback_pass"), SideFile(), clip_name="a.mp4")


def test_without_a_move_the_program_is_to_find_it():
    assert resolve(GivenSettings(stature_m=1.8), SideFile(), clip_name="a.mp4").move is None


@pytest.mark.parametrize("wrong", ["0", "900", "-1.8", "tall", "nan", "inf", "", "1,80"])
def test_impossible_statures_are_refused_with_an_example(wrong):
    with pytest.raises(SettingsError, match=r"--stature .*metres, e\.g\. 1\.80"):
        check_stature_m(wrong, named="--stature")


@pytest.mark.parametrize(("text", "stature_m"), [("0.8", 0.8), ("1.80", 1.8), ("2.4", 2.4)])
def test_plausible_statures_are_taken(text, stature_m):
    assert check_stature_m(text, named="--stature") == stature_m


@pytest.mark.parametrize(
    ("check", "good", "bad"),
    [
        (check_field_of_view_deg, "65", "650"),
        (check_true_rate_hz, "240", "0"),
        (check_true_rate_hz, "59.94", "fast"),
    ],
)
def test_camera_numbers(check, good, bad):
    assert check(good, named="--x") == float(good)
    with pytest.raises(SettingsError, match=f"--x {bad}"):
        check(bad, named="--x")


@pytest.mark.parametrize("name", ["7", " K. M. ", "Žofie 雪", "../../etc", "<b>"])
def test_an_athlete_may_be_called_anything_that_can_be_shown(name):
    assert check_athlete(name, named="--athlete") == name.strip()


@pytest.mark.parametrize("name", ["", "  ", "any", "a\nb", "\x1b[2J", "\u202eabc", "x" * 61])
def test_names_that_cannot_be_shown_are_refused(name):
    with pytest.raises(SettingsError, match="--athlete: not a name"):
        check_athlete(name, named="--athlete")


def test_an_athlete_who_is_typed_beats_the_side_file():
    side = replace(SIDE, athlete="7")
    assert resolve(GivenSettings(), side, clip_name="a.mp4").athlete == "7"
    taped = resolve(GivenSettings(), replace(SIDE, arm_length_m=0.8), clip_name="a.mp4")
    assert taped.arm_length_m == 0.8
    assert resolve(GivenSettings(athlete="8"), side, clip_name="a.mp4").athlete == "8"
    assert resolve(GivenSettings(), SIDE, clip_name="a.mp4").athlete is None


def test_place_in_the_picture():
    assert check_place_px("640, 360", named="--athlete-at") == (640.0, 360.0)


@pytest.mark.parametrize("wrong", ["640", "640,360,1", "left", "-5,10", "nan,1"])
def test_wrong_places_are_refused(wrong):
    with pytest.raises(SettingsError, match=r"e\.g\. 640,360"):
        check_place_px(wrong, named="--athlete-at")


def test_nearest_move_and_level_are_offered():
    with pytest.raises(SettingsError, match="Did you mean throwback_pass"):
        check_move("throwbak_pass", named="--move")
    with pytest.raises(SettingsError, match="Did you mean youth"):
        check_level("yuoth", named="--level")


def test_what_is_typed_about_the_lens_beats_the_side_file():
    side = replace(SIDE, lens_path=Path("side.toml"))

    def lens_path(**given):
        settings = resolve(GivenSettings(**given), side, clip_name="a.mp4")
        return settings.lens_path, settings.fov_deg

    assert lens_path() == (Path("side.toml"), None)
    assert lens_path(lens_path=Path("typed.toml")) == (Path("typed.toml"), None)
    assert lens_path(fov_deg=70.0) == (None, 70.0)


def test_an_age_is_optional_and_typed_beats_written():
    side = replace(SIDE, age_years=12)
    assert resolve(GivenSettings(), SIDE, clip_name="a.mp4").age_years is None
    assert resolve(GivenSettings(), side, clip_name="a.mp4").age_years == 12
    assert resolve(GivenSettings(age_years=14.0), side, clip_name="a.mp4").age_years == 14


@pytest.mark.parametrize("wrong", ["0", "2013", "twelve", "nan", "-12"])
def test_impossible_ages_are_refused_with_an_example(wrong):
    with pytest.raises(SettingsError, match=r"--age .*in years, e\.g\. 12"):
        check_age_years(wrong, named="--age")


def test_marks_that_are_typed_beat_the_side_file():
    side = replace(SIDE, marks_path=Path("side.toml"))
    typed = GivenSettings(marks_path=Path("typed.toml"))
    assert resolve(typed, side, clip_name="a.mp4").marks_path == Path("typed.toml")
    assert resolve(GivenSettings(), side, clip_name="a.mp4").marks_path == Path("side.toml")


@pytest.mark.parametrize("model", [*MODELS, "own.task", "folder/own.task"])
def test_a_pose_model_is_a_name_or_a_path(model):
    assert check_model(model, named="--model") == model
    settings = resolve(GivenSettings(stature_m=1.8, model=model), SideFile(), clip_name="a.mp4")
    assert settings.model_path == bundle_path(model)


def test_a_mistyped_pose_model_is_answered_with_the_nearest():
    with pytest.raises(SettingsError, match=r"--model: 'hevy'.*heavy"):
        check_model("hevy", named="--model")


@pytest.mark.parametrize("model", MODELS)
def test_stored_settings_name_a_shipped_model_and_give_the_whole_path_of_another(model, tmp_path):
    settings = resolve(GivenSettings(stature_m=1.8, model=model), SideFile(), clip_name="a.mp4")
    assert settings_of_text(settings_text(settings)).model == model
    own = replace(settings, model=str(tmp_path / "own.task"))
    assert settings_of_text(settings_text(own)).model_path == (tmp_path / "own.task").resolve()


def test_settings_stored_before_models_had_names_are_of_the_full_one():
    assert settings_of_text('{"stature_m": 1.8, "model_path": null}').model == "full"
    assert settings_of_text('{"stature_m": 1.8, "model_path": "/own.task"}').model == "/own.task"
