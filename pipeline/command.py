"""What all commands share: how their help looks, and how an error is said."""

from __future__ import annotations

import traceback

import click

from pipeline.errors import CrossemetryError

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
