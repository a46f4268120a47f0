"""The commands with which athletes take their data along, or are forgotten."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.command import CONTEXT, plain, say
from pipeline.errors import CrossemetryError
from pipeline.log.options import database_option, debug_option

if TYPE_CHECKING:
    from pipeline.log.personal import Erased


@click.command(context_settings=CONTEXT)
@click.argument("name")
@click.option(
    "--out", required=True, metavar="FOLDER", type=click.Path(path_type=Path),
    help="Where to; an empty folder, or one that is made.",
)  # fmt: skip
@database_option
@debug_option
@click.pass_context
def export(
    context: click.Context, /, name: str, out: Path, database: str | None, debug: bool
) -> None:
    """Write everything that is known of an athlete into a folder, as JSON, CSV and reports.

    \b
    Example:
        crossemetry athlete export "K. M." --out for_k_m
    """
    try:
        from pipeline.log.personal import export_athlete
        from pipeline.log.store import opened_log

        with opened_log(database) as store:
            path = export_athlete(store, name, out)
    except CrossemetryError as error:
        context.exit(say(error, debug=debug))
    n_files = sum(one.is_file() for one in out.rglob("*"))
    click.echo(f"{path}: all of it; {n_files} files in the folder.")


@click.command(context_settings=CONTEXT)
@click.argument("name")
@click.option("--yes", is_flag=True, help="Do not ask first.")
@database_option
@debug_option
@click.pass_context
def erase(
    context: click.Context, /, name: str, yes: bool, database: str | None, debug: bool
) -> None:
    """Forget an athlete: log, kept landmarks, reports, ranges, corrections, examples of drills.

    Films and the side files beside them are yours and stay, and so do copies made elsewhere.

    \b
    Example:
        crossemetry athlete erase "K. M." --yes
    """
    if not yes:
        click.confirm(f"Forget everything about {plain(name)}? This cannot be undone", abort=True)
    try:
        from pipeline.log.personal import erase_athlete
        from pipeline.log.store import opened_log

        with opened_log(database) as store:
            erased = erase_athlete(store, name)
    except CrossemetryError as error:
        context.exit(say(error, debug=debug))
    click.echo("\n".join(_lines(erased)))
    context.exit(1 if erased.left else 0)


def _lines(erased: Erased) -> list[str]:
    rows = ", ".join(f"{n} {table.replace('_', ' ')}" for table, n in erased.rows.items())
    lines = [
        f"Out of the log: {rows}.",
        f"Taken away: {erased.n_files} files of landmarks, pictures and reports; "
        f"{erased.n_ranges} entries of ranges; {erased.n_corrections} corrections.",
    ]
    if erased.drills_shortened:
        lines.append(f"Examples taken out of: {', '.join(erased.drills_shortened)}.")
    if erased.drills_forgotten:
        names = ", ".join(erased.drills_forgotten)
        lines.append(f"Forgotten, too few examples were left: {names}.")
    if erased.n_corrections:
        lines.append(
            "What was learned from the corrections holds no film and no name, and stays until you "
            "run crossemetry corrections retrain."
        )
    if erased.backups:
        lines.append(f"Taken out of {len(erased.backups)} backups in the data folder too.")
    if erased.left:
        lines.append("The name or a film is still found in these files; look at them yourself:")
        lines += [f"  {plain(str(path))}" for path in erased.left]
    else:
        lines.append("The data folder was searched: nothing of it is left there.")
    return lines
