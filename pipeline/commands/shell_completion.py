"""What the Tab key offers for moves and levels of play."""

from __future__ import annotations

import click

from pipeline.settings.checks import LEVELS
from pipeline.settings.move_names import known_move_names


def complete_move(context: click.Context, option: click.Parameter, begun: str) -> list[str]:
    """Offer the moves and the taught drills that go on from what was typed."""
    del context, option
    return [name for name in known_move_names() if name.startswith(begun)]


def complete_level(context: click.Context, option: click.Parameter, begun: str) -> list[str]:
    """Offer the levels of play that go on from what was typed."""
    del context, option
    return [name for name in LEVELS if name.startswith(begun)]
