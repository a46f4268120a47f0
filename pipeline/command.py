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
    click.echo(" ".join(message.split()), err=True)
    return error.exit_code if isinstance(error, CrossemetryError) else 1
