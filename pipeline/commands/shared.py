"""What all commands share: reporting of errors, and options for language and units."""

from __future__ import annotations

import traceback
from pathlib import Path

import click

from pipeline.commands.help import Decorated, command_locale, option, set_click_language
from pipeline.core.catalogue import ENGLISH, LANGUAGES, METRIC, UNITS
from pipeline.core.errors import CrossemetryError
from pipeline.core.messages import Texts, shipped
from pipeline.settings.locale import LANGUAGE_VARIABLE, UNITS_VARIABLE

debug_option = option("--debug", is_flag=True, help="options.debug")
json_option = option("--json", "as_json", is_flag=True, help="options.json")


def texts_for_errors() -> Texts:
    """Shipped texts in the language of the command.

    A coach's own texts are not used, because they may be the cause of the error.
    """
    return shipped(*command_locale())


def report_error(
    error: Exception, *, debug: bool, of: Path | None = None, named: str = "--"
) -> int:
    """Print an error on stderr, in one line unless debugging.

    Parameters
    ----------
    error
        The error; any but a `CrossemetryError` is reported as a fault of the program.
    debug
        Whether to print the traceback.
    of
        File concerned; its name precedes a text that does not begin with it.
    named
        Further beginning of a text that needs no file name; ``--`` always counts.

    Returns
    -------
    int
        Exit code of the error.
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
    r"""Make text safe to print: control characters become escapes.

    Examples
    --------
    >>> print(plain("by K.\x1b[2J"))
    by K.\\x1b[2J
    """
    return "".join(sign if sign.isprintable() else repr(sign)[1:-1] for sign in text)


def locale_options(command: Decorated) -> Decorated:
    """Add the options ``--language`` and ``--units``."""
    in_language = option(
        "--language", metavar="LANGUAGE", help="options.language",
        placeholders={
            "names": ", ".join(LANGUAGES), "variable": LANGUAGE_VARIABLE, "usual": ENGLISH
        },
        is_eager=True, callback=set_click_language,
    )  # fmt: skip
    in_units = option(
        "--units", metavar="UNITS", help="options.units",
        placeholders={"names": ", ".join(UNITS), "variable": UNITS_VARIABLE, "usual": METRIC},
    )  # fmt: skip
    return in_language(in_units(command))
