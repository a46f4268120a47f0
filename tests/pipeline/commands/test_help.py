"""Help is said in the language that is read, every command and option of it."""

import gettext
import io
import os
import re

import click
import pytest
from babel.messages.mofile import read_mo
from click.testing import CliRunner

from pipeline.commands.help import Command, Group, Option, click_language, help_text
from pipeline.commands.main import main
from pipeline.core.catalogue import LANGUAGES, help_texts
from tests.click_words import all_words, compiled

ENGLISH = re.compile(
    r"\b([Tt]he|of|and|is|are|[Tt]o|[Ff]or|with|that|[Ww]hich|[Ww]hat|[Ww]ho|[Ii]t|Show|Print)\b"
)
"""Words that English help cannot do without, and Spanish does not have."""


def below(command, *words):
    """Every command with the words that call it."""
    yield words, command
    if isinstance(command, click.Group):
        context = click.Context(command)
        for name in command.list_commands(context):
            yield from below(command.get_command(context, name), *words, name)


COMMANDS = dict(below(main))


def options_of(command):
    return [option for option in command.params if isinstance(option, click.Option)]


def every_help():
    """Place in the catalogue and what is put in, of all commands and options."""
    for command in COMMANDS.values():
        yield f"{command.help_key}.text", {}
        yield from ((option.help_key, option.placeholders) for option in options_of(command))


def run(*words, language=None, **environment):
    asked = {"CROSSEMETRY_LANGUAGE": language, **environment}
    return CliRunner().invoke(main, words, prog_name="crossemetry", env=asked)


def test_every_command_and_option_names_its_help():
    for words, command in COMMANDS.items():
        assert isinstance(command, Command), words
        assert {type(option) for option in options_of(command)} <= {Option}, words
        assert isinstance(command, Group) == isinstance(command, click.Group), words


@pytest.mark.parametrize("language", LANGUAGES)
def test_all_help_that_is_named_stands_in_the_catalogue(language):
    for key, placeholders in every_help():
        assert help_text(key, language, **placeholders), key


def test_no_help_stands_in_the_catalogue_that_nobody_names():
    def places(node, *place):
        for name, found in node.items():
            if isinstance(found, str):
                yield ".".join((*place, name))
            else:
                yield from places(found, *place, name)

    named = {key for key, _ in every_help()} | {"options.help"}
    named |= {f"{command.help_key}.short" for command in COMMANDS.values()}
    assert set(places(help_texts("en"))) - named == set()


def test_an_unknown_place_has_no_help():
    assert help_text("no.such", "en") is None
    assert help_text("check", "en") is None


def test_no_english_is_left_in_spanish_help():
    headings = ("Usage:", "Options:", "Commands:", "Example:", "default:", "required")
    left = {}
    for words in COMMANDS:
        shown = run(*words, "--help", language="es").stdout
        shown = re.sub(r"^ +crossemetry .*$|--\S+", "", shown, flags=re.MULTILINE)  # what is typed
        found = ENGLISH.findall(shown) + [word for word in headings if word in shown]
        if found:
            left[words] = found
    assert left == {}


def test_the_search_for_english_finds_it():
    for words in COMMANDS:
        assert ENGLISH.search(run(*words, "--help").stdout)


@pytest.mark.parametrize("words", [("check",), ("analyse",), ("review",)], ids=" ".join)
def test_help_follows_the_language_that_is_asked_for(words):
    english, spanish = run(*words, "--help"), run(*words, "--help", language="es")
    assert run(*words, "--language", "es", "--help").stdout == spanish.stdout
    assert run(*words, "--language", "en", "--help", language="es").stdout == english.stdout
    assert run(*words, "--help", language="xx").stdout == english.stdout
    assert run(*words, "--help", LANGUAGE="es").stdout == english.stdout


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("chek",), "No existe el comando 'chek'."),
        (("check",), "Falta el argumento 'CLIP'."),
        (("export", "a.mp4"), "Falta la opción '--format'"),
        (("review", "--port", "99999"), "99999 no está en el rango 0<=x<=65535."),
        (("export", "a.mp4", "--format", "x"), "'x' no es uno de estos: 'parquet'"),
        (("check", "--nothing"), "No existe la opción"),
    ],
)
def test_what_is_typed_wrong_is_told_in_spanish(words, said):
    result = run(*words, language="es")
    assert result.exit_code == 2
    assert said in result.stderr
    assert result.stderr.startswith("Uso: crossemetry")
    assert "para ver la ayuda" in result.stderr


def test_what_is_typed_wrong_after_the_language_is_told_in_it():
    assert "Falta el argumento 'CLIP'." in run("check", "--language", "es").stderr


def test_the_tab_key_describes_commands_and_options_in_spanish():
    def described(*words):
        line = {"COMP_WORDS": " ".join(("crossemetry", *words)), "COMP_CWORD": str(len(words))}
        asked = {**line, "_CROSSEMETRY_COMPLETE": "zsh_complete"}
        return run(language="es", **asked).stdout

    assert help_text("check.short", "es") in described("che")
    assert help_text("options.lens", "es") in described("check", "--le")


def test_afterwards_click_speaks_as_before():
    before = gettext.textdomain(), os.environ.get("LANGUAGE")
    with click_language("es"):
        assert gettext.gettext("Usage:") == "Uso:"
    assert gettext.gettext("Usage:") == "Usage:"
    assert (gettext.textdomain(), os.environ.get("LANGUAGE")) == before


def messages_in(compiled_words):
    """Give the messages of a .mo file and how it forms plurals; its header names who wrote it."""
    catalogue = read_mo(io.BytesIO(compiled_words))
    texts = sorted(str((x.context, x.id, x.string)) for x in catalogue if x.id)
    return texts, catalogue.plural_expr, catalogue.charset


@pytest.mark.parametrize("words", all_words(), ids=lambda path: path.parts[-3])
def test_what_click_reads_is_what_stands_in_its_words(words):
    shipped = messages_in(words.with_suffix(".mo").read_bytes())
    assert shipped[0]
    assert shipped == messages_in(compiled(words)), "run: python -m tests.click_words"


def test_there_are_words_of_click_in_every_language_but_its_own():
    assert {path.parts[-3] for path in all_words()} == set(LANGUAGES) - {"en"}
