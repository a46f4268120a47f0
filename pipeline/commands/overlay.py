"""The command that writes a film of the reps with skeleton and measures on it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline.commands.clip_options import (
    cache_option,
    check_files,
    clip_options,
    faces_option,
    given_settings,
    make_writable_folder,
    out_option,
)
from pipeline.commands.help import command, option
from pipeline.commands.shared import debug_option, report_error
from pipeline.core.errors import CrossemetryError
from pipeline.log.log_request import LogRequest, allowed_settings
from pipeline.settings.settings import AnalysisSettings, GivenSettings

if TYPE_CHECKING:
    from pipeline.core.progress import ProgressCallback
    from pipeline.core.results import Analysis


@command("overlay", help="overlay")
@click.argument("clip", metavar="CLIP", type=click.Path(path_type=Path))
@out_option
@option("--whole", is_flag=True, help="overlay.whole")
@option("--show-others", is_flag=True, help="overlay.show_others")
@clip_options
@cache_option
@faces_option
@debug_option
@click.pass_context
def overlay_command(
    context: click.Context,
    /,
    clip: Path,
    out: Path,
    cache: Path | None,
    whole: bool,
    show_others: bool,
    debug: bool,
    **options: Any,  # noqa: ANN401
) -> None:
    """Write the reps of a clip as film with skeleton and measures on it: overlay.mp4."""
    try:
        given = given_settings(n_clips=1, **options)
        check_files(given)
        make_writable_folder(out)
        text = _written(clip, given, out, cache or out / ".cache", whole, show_others)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug, of=clip))
    click.echo(text)


def _written(
    clip: Path, given: GivenSettings, out: Path, cache: Path, whole: bool, show_others: bool
) -> str:
    """Write the film of a clip; returns a line with its path."""
    settings = allowed_settings(clip, given)
    LogRequest().note_folders(clip, settings.athlete, out=out, cache=cache)
    # Slow imports come after the checks, so that a mistyped option fails at once.
    from pipeline.analysis import analyse_clip
    from pipeline.commands.terminal import progress_bar
    from pipeline.feedback.words import load_words
    from pipeline.report.pictures.overlay import OverlaySettings, write_overlay
    from pipeline.report.results import results_folder

    shown = OverlaySettings(
        hide_faces=settings.hide_faces, show_others=show_others, whole=whole
    )  # fmt: skip
    with progress_bar(clip.name) as on_progress:
        analysis = analyse_clip(clip, settings, cache_dir=cache, on_progress=on_progress)
        folder = results_folder(out, clip, analysis.clip.digest)
        film = write_overlay(analysis, folder, shown, on_progress=on_progress)
    if film is None:
        return load_words(language=settings.language).overlay["no_rep"].format(clip=clip.name)
    return load_words(language=settings.language).overlay["film"].format(path=film)


def overlay_of(
    analysis: Analysis, folder: Path, settings: AnalysisSettings, on_progress: ProgressCallback
) -> list[Path]:
    """Write the overlay of an analysis; returns its path, or nothing without reps."""
    from pipeline.report.pictures.overlay import OverlaySettings, write_overlay

    shown = OverlaySettings(hide_faces=settings.hide_faces)
    film = write_overlay(analysis, folder, shown, on_progress=on_progress)
    return [] if film is None else [film]
