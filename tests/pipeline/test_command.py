from pipeline.command import say
from pipeline.errors import ModelError, SettingsError


def test_an_error_is_one_line_and_has_its_exit_code(capsys):
    error = SettingsError("a.toml:\n  wrong.", what_to_do="Mend it.")
    assert say(str(error), error, debug=False) == 2
    assert capsys.readouterr().err == "a.toml: wrong. Mend it.\n"
    assert say("x", ModelError("x", what_to_do="y"), debug=False) == 1
    assert say("x", ZeroDivisionError(), debug=False) == 1


def test_debugging_shows_where_it_arose(capsys):
    try:
        raise SettingsError("wrong.", what_to_do="Mend it.")
    except SettingsError as error:
        say(str(error), error, debug=True)
    assert "Traceback" in capsys.readouterr().err
