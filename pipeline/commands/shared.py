"""What all commands share: how an error is said, and the options on what people read."""

from __future__ import annotations

import traceback
from pathlib import Path

import click

from pipeline.commands.help import Decorated, option, reading_of_command, speak_as_asked
from pipeline.core.catalogue import ENGLISH, LANGUAGES, METRIC, UNITS
from pipeline.core.errors import CrossemetryError
from pipeline.core.messages import Texts, shipped
from pipeline.settings.locale import LANGUAGE_VARIABLE, UNITS_VARIABLE

debug_option = option("--debug", is_flag=True, help="options.debug")
json_option = option("--json", "as_json", is_flag=True, help="options.json")


def texts_for_errors() -> Texts:
    """Texts in which errors are said: in the language that the command was asked to speak.

    Those that came with the program, for a coach's own may be what is wrong.
    """
    return shipped(*reading_of_command())


def say(error: Exception, *, debug: bool, of: Path | None = None, named: str = "--") -> int:
    """Print an error on stderr, in one line unless debugging.

    Parameters
    ----------
    error
        What is wrong. A mistake in the program itself is said to be one.
    debug
        Whether to show where in the program it arose.
    of
        File it is about: its name is put in front of what does not name it.
    named
        What begins so names something of its own; options do so anyway.

    Returns
    -------
    int
        The exit code that belongs to it.
    """
    if debug:
        click.echo("".join(traceback.format_exception(error)), err=True)
    texts = texts_for_errors()
    if isinstance(error, CrossemetryError):
        text = error.translate(texts)
    else:
        what = f"{type(error).__name__}: {error}"
        text = texts.text("errors.inside.wrong", what=what)
        text += "" if debug else " " + texts.text("errors.inside.do")
    if of is not None and not text.startswith((of.name, f"{of.stem}.", "--", named)):
        text = f"{of.name}: {text}"
    click.echo(plain(" ".join(text.split())), err=True)
    return error.exit_code if isinstance(error, CrossemetryError) else 1


def plain(text: str) -> str:
    r"""Make text safe to print: signs that a terminal would act on are spelled out.

    Examples
    --------
    >>> print(plain("by K.\x1b[2J"))
    by K.\\x1b[2J
    """
    return "".join(sign if sign.isprintable() else repr(sign)[1:-1] for sign in text)


def reading_options(command: Decorated) -> Decorated:
    """Add the options for the language and the units in which people read what is said."""
    in_language = option(
        "--language", metavar="LANGUAGE", help="options.language",
        put_in={"names": ", ".join(LANGUAGES), "variable": LANGUAGE_VARIABLE, "usual": ENGLISH},
        is_eager=True, callback=speak_as_asked,
    )  # fmt: skip
    in_units = option(
        "--units", metavar="UNITS", help="options.units",
        put_in={"names": ", ".join(UNITS), "variable": UNITS_VARIABLE, "usual": METRIC},
    )  # fmt: skip
    return in_language(in_units(command))
