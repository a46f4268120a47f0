"""Help of commands and options: named in code, said from the catalogue when somebody reads it."""

from __future__ import annotations

import gettext
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from typing import Any, TypeVar

import click

from pipeline.core.catalogue import ENGLISH, LANGUAGES, Language, help_texts
from pipeline.settings.locale import Locale, known_reading

Decorated = TypeVar("Decorated", bound=Callable[..., Any])

CONTEXT = {"help_option_names": ["-h", "--help"], "max_content_width": 100}

LOCALES = Path(__file__).parent / "locale"
DOMAIN = "click"
"""Name of the files with click's own words in other languages (`Usage`, `Missing argument`)."""

_GETTEXT_LANGUAGES = "LANGUAGE"
"""What `gettext` asks first for the language; only looked at while our catalogue is bound."""


def reading_of_command() -> Locale:
    """Language and units in which a command is read: as asked of it, else as the environment says.

    Nothing is raised, for this is how errors and help are said.
    """
    context = click.get_current_context(silent=True)
    return known_reading(context.params.get("language") if context else None)


def help_text(key: str, language: Language, **put_in: object) -> str | None:
    """Say a help text in a language; None for one that is not in the catalogue.

    Parameters
    ----------
    key
        Its place below ``[help]``, such as ``targets.set.low``.
    language
        In which it is said.
    put_in
        What stands in its braces.
    """
    found: Any = help_texts(language)
    for name in key.split("."):
        found = found.get(name, {})
    return found.format(**put_in) if isinstance(found, str) else None


class Option(click.Option):
    """An option whose help stands in the catalogue.

    Parameters
    ----------
    help
        Place of its help below ``[help]``.
    put_in
        What stands in the braces of the help: names, which are the same in all languages.
    """

    def __init__(
        self,
        names: Sequence[str] | None = None,
        *,
        help: str,
        put_in: Mapping[str, str] | None = None,
        **attributes: Any,
    ) -> None:
        self.put_in = put_in or {}
        super().__init__(names, help=help, **attributes)

    @property
    def help(self) -> str | None:
        """What it is for, in the language that is read."""
        return help_text(self.help_key, reading_of_command().language, **self.put_in)

    @help.setter
    def help(self, key: str | None) -> None:
        self.help_key = key or ""


class Command(click.Command):
    """A command whose help stands in the catalogue: ``text``, and ``short`` for a list of commands.

    Parameters
    ----------
    help
        Place of both below ``[help]``.
    """

    def __init__(self, name: str | None, *, help: str, **attributes: Any) -> None:
        attributes.setdefault("context_settings", CONTEXT)
        super().__init__(name, help=help, **attributes)

    @property
    def help(self) -> str | None:
        """What it does, in the language that is read."""
        return help_text(f"{self.help_key}.text", reading_of_command().language)

    @help.setter
    def help(self, key: str | None) -> None:
        self.help_key = key or ""

    @property
    def short_help(self) -> str | None:
        """What it does, in one line; None where the first sentence of `help` is short enough."""
        return help_text(f"{self.help_key}.short", reading_of_command().language)

    @short_help.setter
    def short_help(self, text: str | None) -> None:
        """Take what click gives: there is none beside the catalogue's."""

    def get_help_option(self, context: click.Context) -> click.Option | None:
        """Give the option ``--help``; click keeps it, but its help is said anew each time."""
        option = super().get_help_option(context)
        if option is not None:
            option.help = help_text("options.help", reading_of_command().language)
        return option

    def main(self, *arguments: Any, **extra: Any) -> Any:
        """Run as the whole program: from here on, click speaks the language that is read."""
        with click_speaking(known_reading().language):
            return super().main(*arguments, **extra)


class Group(Command, click.Group):
    """A command with commands below it; those get their help from the catalogue too."""

    command_class = Command


class LazyGroup(Group):
    """A group that imports a command only when that command is called.

    The list of commands needs their short help alone, which the catalogue holds under their name.

    Parameters
    ----------
    places
        Module and function of each command by its name, as ``package.module:function``.
    """

    def __init__(
        self, name: str | None, *, help: str, places: Mapping[str, str], **attributes: Any
    ) -> None:
        super().__init__(name, help=help, **attributes)
        self.places = places

    def list_commands(self, context: click.Context) -> list[str]:
        """Return the names of all commands in the order of the alphabet."""
        del context
        return sorted(self.places)

    def get_command(self, context: click.Context, name: str) -> click.Command | None:
        """Import a command by its name; None where there is none of that name."""
        del context
        if name not in self.places:
            return None
        module, _, function = self.places[name].partition(":")
        found: click.Command = getattr(import_module(module), function)
        return found

    def format_commands(self, context: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands without importing them."""
        short: dict[str, click.Command] = {
            name: Command(name, help=name) for name in self.list_commands(context)
        }
        click.Group(commands=short).format_commands(context, formatter)


def option(*names: str, help: str, **attributes: Any) -> Callable[[Decorated], Decorated]:
    """Add an option to a command; see `Option`."""
    return click.option(*names, cls=Option, help=help, **attributes)


def command(name: str, *, help: str, **attributes: Any) -> Callable[[Callable[..., Any]], Command]:
    """Make a function a command; see `Command`."""
    return click.command(name, cls=Command, help=help, **attributes)


def group(name: str, *, help: str, **attributes: Any) -> Callable[[Callable[..., Any]], Group]:
    """Make a function a command with commands below it; see `Command`."""
    return click.group(name, cls=Group, help=help, **attributes)


@contextmanager
def click_speaking(language: Language) -> Iterator[None]:
    """Have click's own words said in a language, and afterwards as before."""
    domain, languages = gettext.textdomain(), os.environ.get(_GETTEXT_LANGUAGES)
    try:
        _speak(language)
        yield
    finally:
        gettext.textdomain(domain)
        if languages is None:
            os.environ.pop(_GETTEXT_LANGUAGES, None)
        else:
            os.environ[_GETTEXT_LANGUAGES] = languages


def speak_as_asked(
    context: click.Context, option: click.Parameter, asked: str | None
) -> str | None:
    """Have click speak the language that the option ``--language`` asks for, if there is one.

    The option has to be eager, or the help would be said before it is looked at.
    """
    del context, option
    for language in LANGUAGES:
        if language == asked:
            _speak(language)
    return asked


def _speak(language: Language) -> None:
    if language == ENGLISH:  # as click is written: no catalogue of this name is anywhere
        gettext.textdomain("messages")
        return
    gettext.bindtextdomain(DOMAIN, str(LOCALES))
    gettext.textdomain(DOMAIN)
    os.environ[_GETTEXT_LANGUAGES] = language
