"""Writes the parts of the documents that follow from the program, so that they stay true."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import click

from pipeline.commands.main import main
from pipeline.measures import MEASURES
from pipeline.targets.load import load_targets
from tests.test_architecture import MODULES

ROOT = Path(__file__).resolve().parent.parent
DOCUMENTS = {
    ROOT / "README.md": ("command line", "measures"),
    ROOT / "DEVELOPERS.md": ("modules",),
}


def help_text() -> str:
    """Give the help of every command, as fenced text."""
    found: list[str] = []

    def add(command: click.Command, name: str, parent: click.Context | None) -> None:
        context = click.Context(
            command, info_name=name, parent=parent, terminal_width=90, **command.context_settings
        )
        found.append(f"```\n$ {context.command_path} --help\n{command.get_help(context)}\n```")
        if isinstance(command, click.Group):
            for name_below in command.list_commands(context):
                below = command.get_command(context, name_below)
                assert below is not None
                add(below, name_below, context)

    add(main, "crossemetry", None)
    return "\n\n".join(found)


def measures_text() -> str:
    """Give one table row per measure, with the shipped range for any level."""
    targets = load_targets(None)
    lines = ["| measure | unit | move | shipped range |", "| --- | --- | --- | --- |"]
    for info in MEASURES.values():
        moves: dict[str, list[str]] = {}
        for move in info.moves:
            target = targets.for_athlete(move, "any", 1.8).get(info.key)
            words = "" if target is None else target.words
            moves.setdefault(words, []).append(move.replace("_", " "))
        unit = "" if info.unit == "1" else info.unit
        for words, names in moves.items():
            lines.append(f"| {info.title} (`{info.key}`) | {unit} | {', '.join(names)} | {words} |")
    return "\n".join(lines)


def modules_text() -> str:
    """Give one table row per module with the first sentence of its docstring."""
    lines = ["| module | what it is for |", "| --- | --- |"]
    for name in MODULES:
        docstring = ast.get_docstring(ast.parse(MODULES[name].read_text(encoding="utf-8"))) or ""
        lines.append(f"| `{name}` | {' '.join(docstring.split(chr(10) * 2)[0].split())} |")
    return "\n".join(lines)


PARTS = {"command line": help_text, "measures": measures_text, "modules": modules_text}


def up_to_date(document: Path) -> str:
    """Give a document with its generated parts written afresh."""
    text = document.read_text(encoding="utf-8")
    for name in DOCUMENTS[document]:
        part = PARTS[name]()
        pattern = rf"(<!-- {name}: begin [^\n]*-->\n).*?(<!-- {name}: end -->)"
        text, count = re.subn(
            pattern, lambda m, part=part: f"{m[1]}{part}\n{m[2]}", text, flags=re.DOTALL
        )
        assert count == 1, name
    return text


if __name__ == "__main__":
    for document in DOCUMENTS:
        document.write_text(up_to_date(document), encoding="utf-8")
