"""The command line: the group of all commands."""

from __future__ import annotations

import click

from pipeline import __version__
from pipeline.commands.help import LazyGroup, Option

PLACES = {
    "analyse": "pipeline.commands.analyse:analyse",
    "athlete": "pipeline.commands.athlete:athlete",
    "calibrate": "pipeline.commands.calibrate:calibrate",
    "check": "pipeline.commands.check:check_command",
    "compare": "pipeline.commands.compare:compare_command",
    "completion": "pipeline.commands.installation:completion",
    "corrections": "pipeline.commands.corrections:corrections",
    "drills": "pipeline.commands.drills:drills",
    "export": "pipeline.commands.export:export",
    "limits": "pipeline.commands.limits:limits",
    "log": "pipeline.commands.log:log",
    "overlay": "pipeline.commands.overlay:overlay_command",
    "review": "pipeline.commands.review:review",
    "targets": "pipeline.commands.targets:targets",
    "teach": "pipeline.commands.drills:teach",
    "trend": "pipeline.commands.volume:trend",
    "volume": "pipeline.commands.volume:volume",
    "where": "pipeline.commands.installation:where",
}
"""Where each command is defined; it is imported when it is called."""


@click.group("crossemetry", cls=LazyGroup, help="main", places=PLACES)
@click.version_option(
    __version__,
    prog_name="crossemetry",
    message="%(prog)s %(version)s",
    cls=Option,
    help="options.version",
)
def main() -> None:
    """Turn phone film of lacrosse reps into numbers with honest uncertainty, and plain words."""
