from pathlib import Path

from pipeline.commands.shared import plain, report_error
from pipeline.core.errors import ModelError, SettingsError


def test_an_error_is_one_line_and_has_its_exit_code(capsys):
    error = SettingsError("a.toml:\n  wrong.", what_to_do="Mend it.")
    assert report_error(error, debug=False) == 2
    assert capsys.readouterr().err == "a.toml: wrong. Mend it.\n"
    assert report_error(ModelError("x", what_to_do="y"), debug=False) == 1
    assert report_error(ZeroDivisionError(), debug=False) == 1


def test_debugging_shows_where_it_arose(capsys):
    try:
        raise SettingsError("wrong.", what_to_do="Mend it.")
    except SettingsError as error:
        report_error(error, debug=True)
    assert "Traceback" in capsys.readouterr().err


def test_letters_of_all_scripts_are_shown_and_signs_that_act_are_not():
    assert plain("Žofie 雪") == "Žofie 雪"
    assert plain("a\nb\x9b\u202e") == r"a\nb\x9b\u202e"


def test_an_error_cannot_act_on_the_terminal(capsys):
    error = SettingsError("ranges.toml: \x1b[2J is no name.", what_to_do="Mend it.")
    report_error(error, debug=False)
    assert capsys.readouterr().err == "ranges.toml: \\x1b[2J is no name. Mend it.\n"


def test_an_error_is_said_in_the_language_that_is_read(capsys, monkeypatch):
    error = SettingsError.of("no_such_language", named="--language", value="xx", nearest="en, es.")
    monkeypatch.setenv("CROSSEMETRY_LANGUAGE", "es")
    report_error(error, debug=False)
    assert capsys.readouterr().err == "--language: no hay textos en 'xx'. en, es.\n"
    monkeypatch.setenv("CROSSEMETRY_LANGUAGE", "xx")
    report_error(error, debug=False)
    assert capsys.readouterr().err == f"{error}\n"


def test_the_file_an_error_is_about_is_named_once(capsys):
    clip = Path("a.mp4")
    said_as = {"wrong.": "a.mp4: wrong.", "a.mp4: wrong.": "a.mp4: wrong."}
    said_as |= {text: text for text in ("a.clip.toml: wrong.", "--stature 9: wrong.")}
    for wrong, said in said_as.items():
        report_error(SettingsError(wrong, what_to_do="Mend it."), debug=False, of=clip)
        assert capsys.readouterr().err == f"{said} Mend it.\n"
