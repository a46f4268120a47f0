"""Shell completion: the command that prints the script, and the names that it completes."""

from __future__ import annotations

import click

from pipeline.commands.help import command
from pipeline.commands.shared import report_error
from pipeline.core.errors import SettingsError
from pipeline.settings.checks import LEVELS, known_move_names

SHELLS = ("bash", "zsh", "fish")


@command("completion", help="completion")
@click.argument("shell", type=click.Choice(SHELLS))
@click.pass_context
def completion(context: click.Context, /, shell: str) -> None:
    """Print a script for completion with the Tab key."""
    from click.shell_completion import ShellComplete, get_completion_class

    complete = get_completion_class(shell)
    if complete is None:  # not supported by this version of click
        context.exit(report_error(SettingsError.of("shell_not_helped", shell=shell), debug=False))
    # The base class, because that of bash would start bash to check its version.
    script = ShellComplete.source(
        complete(context.find_root().command, {}, "crossemetry", "_CROSSEMETRY_COMPLETE")
    )
    click.echo(script)


def complete_move(context: click.Context, option: click.Parameter, begun: str) -> list[str]:
    """Complete the name of a move or taught drill."""
    del context, option
    return [name for name in known_move_names() if name.startswith(begun)]


def complete_level(context: click.Context, option: click.Parameter, begun: str) -> list[str]:
    """Complete the name of a level of play."""
    del context, option
    return [name for name in LEVELS if name.startswith(begun)]
