"""In which language and units somebody reads: option, side file, environment, or the usual."""

import pytest
from click.testing import CliRunner

from pipeline.commands.main import main
from pipeline.core.errors import SettingsError
from pipeline.core.files import VARIABLE
from pipeline.feedback.words import load_words
from pipeline.settings.locale import (
    LANGUAGE_VARIABLE,
    UNITS_VARIABLE,
    USUAL_READING,
    Locale,
    environment_reading,
)
from pipeline.settings.settings import GivenSettings, SideFile, resolve
from pipeline.settings.side_file import read_side_file


def settled(given=(), side=(), reading=USUAL_READING):
    """Language and units that an analysis is told."""
    settings = resolve(
        GivenSettings(stature_m=1.8, **dict(given)),
        SideFile(**dict(side)),
        clip_name="a.mp4",
        reading=reading,
    )
    return settings.language, settings.units


def test_what_is_nearer_to_the_clip_decides():
    spanish = {"language": "es", "units": "feet"}
    english = {"language": "en", "units": "metric"}
    assert settled() == ("en", "metric")
    assert settled(reading=Locale("es", "feet")) == ("es", "feet")
    assert settled(side=english, reading=Locale("es", "feet")) == ("en", "metric")
    assert settled(given=spanish, side=english) == ("es", "feet")
    assert settled(given={"units": "feet"}, side={"language": "es"}) == ("es", "feet")


def test_the_environment_names_language_and_units(monkeypatch):
    assert environment_reading() == ("en", "metric")
    monkeypatch.setenv(LANGUAGE_VARIABLE, "es")
    monkeypatch.setenv(UNITS_VARIABLE, "feet")
    assert environment_reading() == ("es", "feet")
    assert load_words().language == "es"
    assert load_words().texts.figures.system == "feet"


@pytest.mark.parametrize(
    ("variable", "value", "hint"),
    [(LANGUAGE_VARIABLE, "klingon", "en, es"), (UNITS_VARIABLE, "feets", "Did you mean feet")],
)
def test_what_the_environment_asks_for_and_is_not_there_is_told(monkeypatch, variable, value, hint):
    monkeypatch.setenv(variable, value)
    with pytest.raises(SettingsError) as caught:
        load_words()
    assert variable in str(caught.value)
    assert hint in str(caught.value)


def test_the_side_file_names_them_and_a_mistake_is_told_by_line(tmp_path):
    path = tmp_path / "clip.clip.toml"
    path.write_text('language = "es"\nunits = "feet"\n', encoding="utf-8")
    side = read_side_file(tmp_path / "clip.mp4")
    assert (side.language, side.units) == ("es", "feet")
    path.write_text('stature_m = 1.8\nunits = "feets"\n', encoding="utf-8")
    with pytest.raises(SettingsError, match=r"line 2, units: 'feets'.*Did you mean feet\?"):
        read_side_file(tmp_path / "clip.mp4")


def test_a_coach_has_words_of_his_own_in_each_language(monkeypatch, tmp_path):
    monkeypatch.setenv(VARIABLE, str(tmp_path))
    (tmp_path / "words.toml").write_text(
        '[sentences]\nnothing = "No luck."\n[weight.throwback_pass]\ntrunk_lean_deg = 3\n',
        encoding="utf-8",
    )
    (tmp_path / "words.es.toml").write_text(
        '[sentences]\nnothing = "Sin suerte."\n', encoding="utf-8"
    )
    english, spanish = load_words(), load_words(language="es")
    assert english.sentences["nothing"] == "No luck."
    assert spanish.sentences["nothing"] == "Sin suerte."
    assert spanish.sentences["unknown"].startswith("Esta repetición")
    # What is told first is no matter of language.
    assert spanish.weight_of("throwback_pass", "trunk_lean_deg") == 3
    assert spanish.order == english.order


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ('[reasons]\nno_defender = "nadie en {clip}"', "no_defender"),
        ('[scene]\nmoved = "{Camara}"', "Camera"),
        ('[reasons]\nno_defendr = "nadie"', "no_defender"),
    ],
)
def test_a_mistake_in_own_words_of_a_message_is_told(tmp_path, text, hint):
    path = tmp_path / "own.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SettingsError, match=hint):
        load_words(path, language="es")


@pytest.mark.parametrize("command", ["analyse", "check"])
def test_a_language_that_is_not_there_is_told_before_any_work(tmp_path, command):
    film = tmp_path / "film.mp4"
    said = CliRunner().invoke(main, [command, str(film), "--language", "klingon"])
    assert said.exit_code == 2
    assert "--language: there are no texts in 'klingon'. Allowed: en, es." in said.output
    said = CliRunner().invoke(main, [command, str(film), "--units", "feets"])
    assert said.exit_code == 2
    assert "Did you mean feet?" in said.output
