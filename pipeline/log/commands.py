"""The commands on the training log, all of them, for the command line."""

from __future__ import annotations

import click

from pipeline.log.athlete_cli import athlete
from pipeline.log.log_cli import log
from pipeline.log.where_cli import where

COMMANDS: tuple[click.Command, ...] = (log, athlete, where)
