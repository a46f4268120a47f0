"""The command that analyses clips: reads the options, runs one clip after the other."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

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
from pipeline.commands.log_options import analyse_options, log_request, logged_text
from pipeline.commands.overlay import overlay_of
from pipeline.commands.shared import debug_option, locale_options, report_error
from pipeline.core.errors import CrossemetryError, SettingsError
from pipeline.log.log_request import LogRequest, allowed_settings
from pipeline.settings.settings import GivenSettings


@command("analyse", help="analyse")
@click.argument(
    "clips", nargs=-1, required=True, metavar="CLIP...", type=click.Path(path_type=Path)
)
@clip_options
@out_option
@cache_option
@option("--explain", is_flag=True, help="analyse.explain")
@locale_options
@option("--overlay", is_flag=True, help="analyse.overlay")
@faces_option
@analyse_options
@option("--json", "as_json", is_flag=True, help="analyse.json")
@option("--quiet", is_flag=True, help="analyse.quiet")
@debug_option
@click.pass_context
def analyse(
    context: click.Context,
    /,
    clips: tuple[Path, ...],
    out: Path,
    cache: Path | None,
    as_json: bool,
    quiet: bool,
    overlay: bool,
    debug: bool,
    no_log: bool,
    day: str | None,
    database: str | None,
    **options: Any,  # noqa: ANN401 - the remaining options, as click names them
) -> None:
    """Measure the reps in one or more clips and write a report on each."""
    try:
        given = given_settings(n_clips=len(clips), **options)
        keep = log_request(no_log=no_log, day=day, database=database)
        check_files(given)
        make_writable_folder(out)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    exit_code = 0
    results: list[dict[str, Any]] = []
    folders: set[str] = set()
    for number, clip in enumerate(clips, 1):
        try:
            # Compared without case, as the file systems of Windows and macOS do.
            if clip.stem.casefold() in folders:
                raise SettingsError.of("same_clip_name", clip=clip.name)
            folders.add(clip.stem.casefold())
            text, result = _analyse_one(
                clip,
                given,
                out,
                cache or out / ".cache",
                keep,
                number=(number, len(clips)),
                quiet=quiet,
                overlay=overlay,
            )
        except CrossemetryError as error:
            exit_code = max(exit_code, report_error(error, debug=debug, of=clip))
        except Exception as error:
            exit_code = max(exit_code, report_error(error, debug=debug, of=clip))
        else:
            results.append(result)
            if not as_json and not quiet:
                click.echo(text)
    if as_json and results:
        click.echo(json.dumps(results if len(clips) > 1 else results[0], indent=2))
    context.exit(exit_code)


def _analyse_one(
    clip: Path,
    given: GivenSettings,
    out: Path,
    cache: Path,
    keep: LogRequest,
    *,
    number: tuple[int, int],
    quiet: bool,
    overlay: bool,
) -> tuple[str, dict[str, Any]]:
    """Analyse a clip and write its results; returns the summary and the results."""
    settings = allowed_settings(clip, given, keep)
    # Slow imports come after the checks, so that a mistyped option fails at once.
    from pipeline.commands.terminal import EarlyFindings, progress_bar, summary
    from pipeline.feedback.words import load_words
    from pipeline.web.review.analyse_film import analyse_film

    words = load_words(language=settings.language, units=settings.units)
    early = EarlyFindings(clip.name, words, quiet=quiet)
    with progress_bar(clip.name, words, number=number, quiet=quiet) as on_progress:
        done = analyse_film(
            clip, settings, keep, out=out, cache=cache, on_progress=on_progress, on_findings=early
        )
        written = list(done.written)
        if overlay:
            written += overlay_of(done.analysis, written[0].parent, settings, on_progress)
    tables = [path for path in written if path.name == "reps.json"]
    result = json.loads(tables[0].read_text(encoding="utf-8")) if tables else {}
    text = summary(done.analysis, written, early.notes) + logged_text(words, done.logged)
    return text, result
