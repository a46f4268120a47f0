"""The command that prints what a shell needs to complete commands, options, moves and files."""

from __future__ import annotations

import click

from pipeline.commands.help import command
from pipeline.commands.shared import say
from pipeline.core.errors import SettingsError

SHELLS = ("bash", "zsh", "fish")


@command("completion", help="completion")
@click.argument("shell", type=click.Choice(SHELLS))
@click.pass_context
def completion(context: click.Context, /, shell: str) -> None:
    """Print a script that lets the Tab key complete what is typed."""
    from click.shell_completion import ShellComplete, get_completion_class

    complete = get_completion_class(shell)
    if complete is None:  # a shell that this version of click has not
        context.exit(say(SettingsError.of("shell_not_helped", shell=shell), debug=False))
    # The base class's own way: that of bash starts a bash to ask for its version.
    script = ShellComplete.source(
        complete(context.find_root().command, {}, "crossemetry", "_CROSSEMETRY_COMPLETE")
    )
    click.echo(script)
