"""The commands on the training log, all of them, for the command line."""

from __future__ import annotations

import click

from pipeline.log.athlete_cli import athlete
from pipeline.log.limits_cli import limits
from pipeline.log.log_cli import log
from pipeline.log.personal_cli import erase, export
from pipeline.log.volume_cli import trend, volume
from pipeline.log.where_cli import where

athlete.add_command(export)
athlete.add_command(erase)

COMMANDS: tuple[click.Command, ...] = (log, athlete, limits, volume, trend, where)
