"""The command that analyses clips: reads the options, and runs one clip or many."""

from __future__ import annotations

import json
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline.commands.batch import BatchOptions, films_of, run_batch
from pipeline.commands.clip_options import (
    cache_option,
    check_files,
    clip_options,
    faces_option,
    given_settings,
    make_writable_folder,
    out_option,
)
from pipeline.commands.clip_workers import (
    WORKER_MB,
    Crew,
    OwnProcess,
    WorkerProcesses,
    default_workers,
)
from pipeline.commands.help import command, option
from pipeline.commands.log_options import analyse_options, log_request, logged_text
from pipeline.commands.overlay import overlay_of
from pipeline.commands.shared import debug_option, locale_options, report_error
from pipeline.core.errors import CrossemetryError, SettingsError
from pipeline.log.log_request import allowed_settings

if TYPE_CHECKING:
    from pipeline.commands.terminal import BatchProgress


@command("analyse", help="analyse")
@click.argument(
    "clips", nargs=-1, required=True, metavar="CLIP|FOLDER...", type=click.Path(path_type=Path)
)
@clip_options
@out_option
@cache_option
@option("--explain", is_flag=True, help="analyse.explain")
@locale_options
@option("--overlay", is_flag=True, help="analyse.overlay")
@faces_option
@option(
    "--workers",
    type=click.IntRange(1, 1000),
    metavar="N",
    help="analyse.workers",
    placeholders={"limit": str(WORKER_MB)},
)
@option("--again", is_flag=True, help="analyse.again")
@option("--cluster", metavar="ADDRESS", help="analyse.cluster")
@option("--send", type=click.Choice(["paths", "films"]), help="analyse.send")
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
    workers: int | None,
    again: bool,
    cluster: str | None,
    send: str | None,
    debug: bool,
    no_log: bool,
    day: str | None,
    database: str | None,
    **options: Any,  # noqa: ANN401 - the remaining options, as click names them
) -> None:
    """Measure the reps in one or more clips and write a report on each."""
    try:
        films = films_of(clips)
        given = given_settings(n_clips=len(films), **options)
        keep = log_request(no_log=no_log, day=day, database=database)
        if cluster is not None and workers is not None:
            raise SettingsError.of("workers_of_cluster")
        if cluster is None and send is not None:
            raise SettingsError.of("send_without_cluster")
        check_files(given)
        make_writable_folder(out)
        batch = BatchOptions(
            given=given, out=out, cache=cache or out / ".cache", log=keep, overlay=overlay,
            again=again, as_json=as_json, quiet=quiet, debug=debug,
        )  # fmt: skip
        if films != list(clips) or len(films) > 1 or cluster is not None:
            make_crew = partial(_crew, workers=workers, cluster=cluster, send=send or "paths")
            context.exit(run_batch(films, batch, make_crew))
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    except KeyboardInterrupt:
        raise click.Abort from None
    context.exit(_analyse_one(films[0], batch))


def _crew(
    n_films: int,
    progress: BatchProgress,
    *,
    workers: int | None,
    cluster: str | None,
    send: str,
) -> Crew:
    """Start the workers that were requested."""
    if cluster is not None:
        from pipeline.commands.cluster import ClusterWorkers

        return ClusterWorkers(cluster, with_films=send == "films", on_progress=progress.report)
    n_workers = default_workers(n_films) if workers is None else min(workers, n_films)
    if n_workers == 1:
        return OwnProcess(progress.report)
    return WorkerProcesses(n_workers, progress.report)


def _analyse_one(film: Path, options: BatchOptions) -> int:
    """Analyse a single clip and print what was found; returns the exit code."""
    try:
        text, result = _analysed(film, options)
    except Exception as error:
        return report_error(error, debug=options.debug, of=film)
    if options.as_json:
        click.echo(json.dumps(result, indent=2))
    elif not options.quiet:
        click.echo(text)
    return 0


def _analysed(film: Path, options: BatchOptions) -> tuple[str, dict[str, Any]]:
    """Analyse a clip and write its results; returns the summary and the results."""
    settings = allowed_settings(film, options.given, options.log)
    # Slow imports come after the checks, so that a mistyped option fails at once.
    from pipeline.commands.terminal import EarlyFindings, progress_bar, summary
    from pipeline.feedback.words import load_words
    from pipeline.web.review.analyse_film import analyse_film

    quiet = options.quiet
    words = load_words(language=settings.language, units=settings.units)
    early = EarlyFindings(film.name, words, quiet=quiet)
    with progress_bar(film.name, words, quiet=quiet) as on_progress:
        done = analyse_film(
            film, settings, options.log, out=options.out, cache=options.cache,
            on_progress=on_progress, on_findings=early,
        )  # fmt: skip
        written = list(done.written)
        if options.overlay:
            written += overlay_of(done.analysis, written[0].parent, settings, on_progress)
    tables = [path for path in written if path.name == "reps.json"]
    result = json.loads(tables[0].read_text(encoding="utf-8")) if tables else {}
    text = summary(done.analysis, written, early.notes) + logged_text(words, done.logged)
    return text, result
