"""What all commands share: how their help looks, how an error is said, in what people read."""

from __future__ import annotations

import traceback
from collections.abc import Callable
from typing import Any, TypeVar

import click

from pipeline.catalogue import ENGLISH, LANGUAGES, METRIC, UNITS
from pipeline.errors import CrossemetryError
from pipeline.reading import LANGUAGE_VARIABLE, UNITS_VARIABLE

Command = TypeVar("Command", bound=Callable[..., Any])

CONTEXT = {"help_option_names": ["-h", "--help"], "max_content_width": 100}


def say(message: str, error: Exception, *, debug: bool) -> int:
    """Print an error on stderr, in one line unless debugging.

    Parameters
    ----------
    message
        What is printed.
    error
        Where it came from.
    debug
        Whether to show where in the program it arose.

    Returns
    -------
    int
        The exit code that belongs to it.
    """
    if debug:
        click.echo("".join(traceback.format_exception(error)), err=True)
    click.echo(plain(" ".join(message.split())), err=True)
    return error.exit_code if isinstance(error, CrossemetryError) else 1


def plain(text: str) -> str:
    r"""Make text safe to print: signs that a terminal would act on are spelled out.

    Examples
    --------
    >>> print(plain("by K.\x1b[2J"))
    by K.\\x1b[2J
    """
    return "".join(sign if sign.isprintable() else repr(sign)[1:-1] for sign in text)


def reading_options(command: Command) -> Command:
    """Add the options for the language and the units in which people read what is said."""
    for name, values, variable, usual in (
        ("units", UNITS, UNITS_VARIABLE, METRIC),
        ("language", LANGUAGES, LANGUAGE_VARIABLE, ENGLISH),
    ):
        option = click.option(
            f"--{name}",
            metavar=name.upper(),
            help=f"{name.capitalize()} to read in: {', '.join(values)}.  "
            f"[default: as {variable} says, else {usual}]",
        )
        command = option(command)
    return command
