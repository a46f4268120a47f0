"""The commands on the training log, all of them, for the command line."""

from __future__ import annotations

import click

from pipeline.commands.athlete import athlete
from pipeline.commands.limits import limits
from pipeline.commands.log import log
from pipeline.commands.personal import erase, export
from pipeline.commands.volume import trend, volume
from pipeline.commands.where import where

athlete.add_command(export)
athlete.add_command(erase)

COMMANDS: tuple[click.Command, ...] = (log, athlete, limits, volume, trend, where)
