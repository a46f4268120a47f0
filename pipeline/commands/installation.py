"""The commands about the installation: shell completion, and where the program stores data."""

from __future__ import annotations

import json

import click
from click.shell_completion import CompletionItem

from models import MODELS
from pipeline.commands.help import command
from pipeline.commands.log_options import database_option
from pipeline.commands.shared import debug_option, json_option, report_error
from pipeline.core.errors import CrossemetryError, SettingsError
from pipeline.core.files import VARIABLE as DATA_VARIABLE
from pipeline.core.files import data_folder
from pipeline.log.location import VARIABLE
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


def complete_model(
    context: click.Context, option: click.Parameter, begun: str
) -> list[CompletionItem]:
    """Complete the name of a pose model that is shipped, or the path of another."""
    del context, option
    names = [CompletionItem(name) for name in MODELS if name.startswith(begun)]
    return names or [CompletionItem(begun, type="file")]


@command("where", help="where")
@json_option
@database_option
@debug_option
@click.pass_context
def where(context: click.Context, /, as_json: bool, database: str | None, debug: bool) -> None:
    """Show the folder of training log, ranges, drills and corrections."""
    try:
        from pipeline.feedback.words import load_words
        from pipeline.log.location import log_url, shown

        words = load_words()
        log = shown(log_url(database))
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    folder = data_folder()
    there = folder.is_dir()
    files = sorted(path.name for path in folder.iterdir()) if there else []
    if as_json:
        document = {
            "schema": "crossemetry.where/1",
            "data_folder": str(folder),
            "training_log": log,
            "holds": files,
        }
        click.echo(json.dumps(document, indent=2))
        return
    found = {
        "data_folder": str(folder)
        if there
        else words.text("log_output.not_made_yet", folder=folder),
        "training_log": log,
        "holds": ", ".join(files) or words.text("log_output.holds_nothing"),
    }
    names = [words.text(f"log_output.{name}") for name in found]
    width = max(map(len, names))
    lines = [
        f"{name.ljust(width)}  {what}" for name, what in zip(names, found.values(), strict=True)
    ]
    others = words.text("log_output.other_places", data=DATA_VARIABLE, database=VARIABLE)
    click.echo("\n".join([*lines, others]))
