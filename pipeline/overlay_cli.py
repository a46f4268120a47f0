"""The command that writes a clip's reps as film with skeleton and measures on it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline.clip_options import (
    check_files,
    clip_options,
    faces_option,
    given_settings,
    make_writable_folder,
)
from pipeline.command import CONTEXT, say
from pipeline.errors import CrossemetryError
from pipeline.log.asked import LogAsked
from pipeline.reading import environment_reading
from pipeline.settings import AnalysisSettings, GivenSettings, resolve

if TYPE_CHECKING:
    from pipeline.progress import ProgressCallback
    from pipeline.result_types import Analysis


@click.command(
    "overlay", context_settings=CONTEXT, short_help="Write reps as film with skeleton and measures."
)
@click.argument("clip", metavar="CLIP", type=click.Path(path_type=Path))
@click.option(
    "--out", default="out", show_default=True, metavar="FOLDER", type=click.Path(path_type=Path),
    help="Where the results go, one folder per clip.",
)  # fmt: skip
@click.option("--whole", is_flag=True, help="Show what lies between the reps too.")
@click.option("--show-others", is_flag=True, help="Draw the defender's skeleton too.")
@clip_options
@click.option(
    "--cache", metavar="FOLDER", type=click.Path(path_type=Path),
    help="Where body landmarks are kept for the next time.  [default: FOLDER of --out/.cache]",
)  # fmt: skip
@faces_option
@click.option("--debug", is_flag=True, help="Show where in the program an error arose.")
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
    """Write the reps of a clip as film with skeleton and measures on it: overlay.mp4.

    Each rep from 1.5 s before to 1.5 s after it at true speed, then its key moment four times
    slower and nearer. Plays on phones and in browsers; without sound. A clip that was analysed with
    the same --out is not analysed again. What is not given here is read from NAME.clip.toml.

    \b
    Example:
        crossemetry overlay sample_clips/throwback_youth.mp4 --out out
    """  # fmt: skip
    try:
        given = given_settings(n_clips=1, **options)
        check_files(given)
        make_writable_folder(out)
        text = _written(clip, given, out, cache or out / ".cache", whole, show_others)
    except CrossemetryError as error:
        context.exit(say(error, debug=debug, of=clip))
    click.echo(text)


def _written(
    clip: Path, given: GivenSettings, out: Path, cache: Path, whole: bool, show_others: bool
) -> str:
    """Write the film of a clip and tell where it lies."""
    from pipeline.side_file import read_side_file

    settings = resolve(
        given, read_side_file(clip), clip_name=clip.name, reading=environment_reading()
    )
    LogAsked(write=False).allow(settings)
    # Only now the slow imports: a mistyped option is answered at once.
    from pipeline.overlay import OverlaySettings, write_overlay
    from pipeline.report.results import results_folder
    from pipeline.run import analyse_clip
    from pipeline.terminal import progress_bar
    from pipeline.words import load_words

    shown = OverlaySettings(
        hide_faces=settings.hide_faces, show_others=show_others, whole=whole
    )  # fmt: skip
    with progress_bar(clip.name) as on_progress:
        analysis = analyse_clip(clip, settings, cache_dir=cache, on_progress=on_progress)
        film = write_overlay(
            analysis, results_folder(out, analysis), shown, on_progress=on_progress
        )
    if film is None:
        return load_words(language=settings.language).overlay["no_rep"].format(clip=clip.name)
    return load_words(language=settings.language).overlay["film"].format(path=film)


def overlay_of(
    analysis: Analysis, folder: Path, settings: AnalysisSettings, on_progress: ProgressCallback
) -> list[Path]:
    """Write the overlay of an analysis; gives its path, or nothing if there is no rep to show."""
    from pipeline.overlay import OverlaySettings, write_overlay

    shown = OverlaySettings(hide_faces=settings.hide_faces)
    film = write_overlay(analysis, folder, shown, on_progress=on_progress)
    return [] if film is None else [film]
