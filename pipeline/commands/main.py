"""The command line: the group of all commands."""

from __future__ import annotations

import click

from pipeline import __version__
from pipeline.commands.analyse import analyse
from pipeline.commands.athlete import athlete
from pipeline.commands.calibrate import calibrate
from pipeline.commands.check import check_command
from pipeline.commands.compare import compare_command
from pipeline.commands.completion import completion
from pipeline.commands.corrections import corrections
from pipeline.commands.drills import drills, teach
from pipeline.commands.export import export
from pipeline.commands.help import Option, group
from pipeline.commands.limits import limits
from pipeline.commands.log import log
from pipeline.commands.overlay import overlay_command
from pipeline.commands.personal import erase, export_personal
from pipeline.commands.review import review
from pipeline.commands.targets import targets
from pipeline.commands.volume import trend, volume
from pipeline.commands.where import where

athlete.add_command(export_personal)
athlete.add_command(erase)

COMMANDS: tuple[click.Command, ...] = (log, athlete, limits, volume, trend, where)


@group("crossemetry", help="main")
@click.version_option(
    __version__,
    prog_name="crossemetry",
    message="%(prog)s %(version)s",
    cls=Option,
    help="options.version",
)
def main() -> None:
    """Turn phone film of lacrosse reps into numbers with honest uncertainty, and plain words."""


main.add_command(analyse)
main.add_command(calibrate)
main.add_command(check_command)
main.add_command(targets)
main.add_command(teach)
main.add_command(drills)
main.add_command(corrections)
main.add_command(export)
main.add_command(review)
main.add_command(completion)
main.add_command(overlay_command)
main.add_command(compare_command)
for command in COMMANDS:
    main.add_command(command)
