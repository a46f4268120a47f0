"""Help of commands and options, looked up in the catalogue in the reader's language."""

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
"""Name of the files with click's own texts in other languages (`Usage`, `Missing argument`)."""

_GETTEXT_LANGUAGES = "LANGUAGE"
"""Variable that `gettext` reads first for the language, while our catalogue is bound."""


def command_locale() -> Locale:
    """Language and units of a command: from its options, else from the environment.

    It raises nothing, because errors and help depend on it.
    """
    context = click.get_current_context(silent=True)
    return known_reading(context.params.get("language") if context else None)


def help_text(key: str, language: Language, **placeholders: object) -> str | None:
    """Give a help text in a language; None if the catalogue lacks it.

    Parameters
    ----------
    key
        Key below ``[help]``, such as ``targets.set.low``.
    language
        Language of the text.
    placeholders
        Values of its placeholders.
    """
    found: Any = help_texts(language)
    for name in key.split("."):
        found = found.get(name, {})
    return found.format(**placeholders) if isinstance(found, str) else None


class Option(click.Option):
    """An option with its help in the catalogue.

    Parameters
    ----------
    help
        Key of its help below ``[help]``.
    placeholders
        Values of the placeholders: names that are the same in all languages.
    """

    def __init__(
        self,
        names: Sequence[str] | None = None,
        *,
        help: str,
        placeholders: Mapping[str, str] | None = None,
        **attributes: Any,
    ) -> None:
        self.placeholders = placeholders or {}
        super().__init__(names, help=help, **attributes)

    @property
    def help(self) -> str | None:
        """Help text in the language of the command."""
        return help_text(self.help_key, command_locale().language, **self.placeholders)

    @help.setter
    def help(self, key: str | None) -> None:
        self.help_key = key or ""


class Command(click.Command):
    """A command with its help in the catalogue: ``text``, and ``short`` for lists of commands.

    Parameters
    ----------
    help
        Key of both below ``[help]``.
    """

    def __init__(self, name: str | None, *, help: str, **attributes: Any) -> None:
        attributes.setdefault("context_settings", CONTEXT)
        super().__init__(name, help=help, **attributes)

    @property
    def help(self) -> str | None:
        """Help text in the language of the command."""
        return help_text(f"{self.help_key}.text", command_locale().language)

    @help.setter
    def help(self, key: str | None) -> None:
        self.help_key = key or ""

    @property
    def short_help(self) -> str | None:
        """Help in one line; None if the first sentence of `help` is short enough."""
        return help_text(f"{self.help_key}.short", command_locale().language)

    @short_help.setter
    def short_help(self, text: str | None) -> None:
        """Ignore what click sets; only the catalogue's text is used."""

    def get_help_option(self, context: click.Context) -> click.Option | None:
        """Give the option ``--help``; click caches it, so its help is set again each time."""
        option = super().get_help_option(context)
        if option is not None:
            option.help = help_text("options.help", command_locale().language)
        return option

    def main(self, *arguments: Any, **extra: Any) -> Any:
        """Run as the whole program, with click's own texts in the language of the environment."""
        with click_language(known_reading().language):
            return super().main(*arguments, **extra)


class Group(Command, click.Group):
    """A command with subcommands, whose help is in the catalogue too."""

    command_class = Command


class LazyGroup(Group):
    """A group that imports a command only when that command is called.

    The list of commands needs only their short help, which the catalogue holds by name.

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
        """Return the names of all commands in alphabetical order."""
        del context
        return sorted(self.places)

    def get_command(self, context: click.Context, name: str) -> click.Command | None:
        """Import a command by its name; None for an unknown name."""
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
    """Make a function a command with subcommands; see `Command`."""
    return click.group(name, cls=Group, help=help, **attributes)


@contextmanager
def click_language(language: Language) -> Iterator[None]:
    """Use a language for click's own texts, and restore the previous one afterwards."""
    domain, languages = gettext.textdomain(), os.environ.get(_GETTEXT_LANGUAGES)
    try:
        _bind_click_texts(language)
        yield
    finally:
        gettext.textdomain(domain)
        if languages is None:
            os.environ.pop(_GETTEXT_LANGUAGES, None)
        else:
            os.environ[_GETTEXT_LANGUAGES] = languages


def set_click_language(
    context: click.Context, option: click.Parameter, requested: str | None
) -> str | None:
    """Use the language of the option ``--language`` for click's own texts, if it is known.

    The option must be eager, or click would print the help before reading it.
    """
    del context, option
    for language in LANGUAGES:
        if language == requested:
            _bind_click_texts(language)
    return requested


def _bind_click_texts(language: Language) -> None:
    if language == ENGLISH:  # click is written in English: no catalogue of this name exists
        gettext.textdomain("messages")
        return
    gettext.bindtextdomain(DOMAIN, str(LOCALES))
    gettext.textdomain(DOMAIN)
    os.environ[_GETTEXT_LANGUAGES] = language
