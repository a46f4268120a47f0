"""The command that exports a clip's data for other programs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline.commands.clip_options import (
    cache_option,
    check_files,
    clip_options,
    given_settings,
    make_writable_folder,
)
from pipeline.commands.help import command, option
from pipeline.commands.shared import debug_option, report_error
from pipeline.core.errors import CrossemetryError
from pipeline.log.log_request import LogRequest, allowed_settings
from pipeline.settings.settings import GivenSettings

if TYPE_CHECKING:
    from pipeline.export.formats import Format

_FORMATS = ("parquet", "c3d", "csv", "json")


@command("export", help="export")
@click.argument("clip", metavar="CLIP", type=click.Path(path_type=Path))
@option(
    "--format", "formats", required=True, multiple=True, type=click.Choice(_FORMATS),
    help="export.format",
)  # fmt: skip
@clip_options
@option(
    "--out", default="out", show_default=True, metavar="FOLDER", type=click.Path(path_type=Path),
    help="export.out",
)  # fmt: skip
@cache_option
@option("--quiet", is_flag=True, help="export.quiet")
@debug_option
@click.pass_context
def export(
    context: click.Context,
    /,
    clip: Path,
    formats: tuple[Format, ...],
    out: Path,
    cache: Path | None,
    quiet: bool,
    debug: bool,
    **options: Any,  # noqa: ANN401 - the remaining options, as click names them
) -> None:
    """Write a clip's reps, measures, landmarks and joints in metres for other programs."""
    try:
        given = given_settings(n_clips=1, **options)
        check_files(given)
        make_writable_folder(out)
        written = _export(clip, given, tuple(dict.fromkeys(formats)), out, cache, quiet=quiet)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug, of=clip))
    if not quiet:
        click.echo("\n".join(str(path) for path in written))


def _export(
    clip: Path,
    given: GivenSettings,
    formats: tuple[Format, ...],
    out: Path,
    cache: Path | None,
    *,
    quiet: bool,
) -> list[Path]:
    from pipeline.export.optional_libraries import check_libraries

    check_libraries(formats)
    settings = allowed_settings(clip, given)
    cache = cache or out / ".cache"
    LogRequest().note_folders(clip, settings.athlete, out=out, cache=cache)
    # Slow imports come after the checks, so that a mistyped option fails at once.
    from pipeline.commands.terminal import progress_bar
    from pipeline.export.film_data import read_film_data
    from pipeline.export.formats import export_film

    with progress_bar(clip.name, quiet=quiet) as on_progress:
        film = read_film_data(clip, settings, cache_dir=cache, on_progress=on_progress)
    return export_film(film, formats, out)
