"""The command that prints what a shell needs to complete commands, options, moves and files."""

from __future__ import annotations

import click

from pipeline.command import CONTEXT

SHELLS = ("bash", "zsh", "fish")


@click.command(
    "completion", context_settings=CONTEXT, short_help="Let the Tab key complete what you type."
)
@click.argument("shell", type=click.Choice(SHELLS))
@click.pass_context
def completion(context: click.Context, /, shell: str) -> None:
    """Print a script that lets the Tab key complete commands, options, moves, levels and files.

    bash and zsh: put the line eval "$(crossemetry completion bash)" into ~/.bashrc, or the same
    with zsh into ~/.zshrc. fish: write it to ~/.config/fish/completions/crossemetry.fish.

    \b
    Example:
        crossemetry completion bash
    """  # fmt: skip
    from click.shell_completion import ShellComplete, get_completion_class

    complete = get_completion_class(shell)
    if complete is None:  # a shell that this version of click has not
        raise click.UsageError(f"{shell}: this shell cannot be helped.", context)
    # The base class's own way: that of bash starts a bash to ask for its version.
    script = ShellComplete.source(
        complete(context.find_root().command, {}, "crossemetry", "_CROSSEMETRY_COMPLETE")
    )
    click.echo(script)
