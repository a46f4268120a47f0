"""Writes docs/commands.md and docs/measures.md from the program: `make docs`."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click

from pipeline.commands.main import main
from pipeline.measures import MEASURES
from pipeline.targets.load import load_targets

DOCS = Path(__file__).resolve().parent.parent / "docs"
WIDTH = 90


def contexts() -> Iterator[click.Context]:
    """Give the context of every command, each group before its commands."""

    def below(
        command: click.Command, name: str, parent: click.Context | None
    ) -> Iterator[click.Context]:
        context = click.Context(
            command, info_name=name, parent=parent, terminal_width=WIDTH, **command.context_settings
        )
        yield context
        if isinstance(command, click.Group):
            for inner in command.list_commands(context):
                found = command.get_command(context, inner)
                assert found is not None
                yield from below(found, inner, context)

    yield from below(main, "crossemetry", None)


def commands_page() -> str:
    """Give the help of every command, one heading each."""
    parts = ["# All commands", "This page is the help of the program, written by `make docs`."]
    for context in contexts():
        help_text = context.command.get_help(context)
        parts += [f"## {context.command_path}", f"```text\n{help_text}\n```"]
    return "\n\n".join(parts) + "\n"


def measures_page() -> str:
    """Give what each measure is, in which moves it is measured, and the shipped ranges."""
    targets = load_targets(None)
    parts = [
        "# All measures",
        "This page follows from the program, written by `make docs`. The ranges are those that "
        "come with it,\nfor any level of play: common practice without a published source. "
        "[The moves](player.md#analyse), [setting ranges](coach.md#set-target-ranges).",
    ]
    for key, info in MEASURES.items():
        moves: dict[str, list[str]] = {}
        for move in info.moves:
            target = targets.for_athlete(move, "any", 1.8).get(key)
            moves.setdefault("no range" if target is None else target.words, []).append(f"`{move}`")
        unit = {"1": "a number"}.get(info.unit, info.unit)
        lines = [f"- {words}: {', '.join(names)}" for words, names in moves.items()]
        parts += [f"## {key}", f"{info.title}, {unit}. {info.definition}", "\n".join(lines)]
    return "\n\n".join(parts) + "\n"


PAGES = {"commands.md": commands_page, "measures.md": measures_page}

if __name__ == "__main__":
    for name, page in PAGES.items():
        (DOCS / name).write_text(page(), encoding="utf-8")
