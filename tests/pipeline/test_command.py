from pipeline.command import plain, say
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


def test_letters_of_all_scripts_are_shown_and_signs_that_act_are_not():
    assert plain("Žofie 雪") == "Žofie 雪"
    assert plain("a\nb\x9b\u202e") == r"a\nb\x9b\u202e"


def test_an_error_cannot_act_on_the_terminal(capsys):
    say("ranges.toml: \x1b[2J is no name.", ValueError(), debug=False)
    assert capsys.readouterr().err == "ranges.toml: \\x1b[2J is no name.\n"
