"""The command that puts two reps beside each other, as film and as a strip of pictures."""

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
)
from pipeline.commands.help import command, option
from pipeline.commands.log_hooks import LogAsked
from pipeline.commands.shared import debug_option, say
from pipeline.core.errors import CrossemetryError
from pipeline.settings.locale import environment_reading
from pipeline.settings.settings import GivenSettings, resolve

if TYPE_CHECKING:
    from pipeline.commands.rep_choice import RepChoice
    from pipeline.core.results import Analysis


@command("compare", help="compare")
@click.argument("first", metavar="CLIP:REP")
@click.argument("second", metavar="CLIP:REP")
@option(
    "--out", default="out", show_default=True, metavar="FOLDER", type=click.Path(path_type=Path),
    help="compare.out",
)  # fmt: skip
@clip_options
@cache_option
@faces_option
@debug_option
@click.pass_context
def compare_command(
    context: click.Context,
    /,
    first: str,
    second: str,
    out: Path,
    cache: Path | None,
    debug: bool,
    **options: Any,  # noqa: ANN401
) -> None:
    """Show two reps beside each other, aligned at their key moment: film and pictures."""
    try:
        given = given_settings(n_clips=2, **options)
        check_files(given)
        make_writable_folder(out)
        lines = _compared((first, second), given, out, cache or out / ".cache")
    except CrossemetryError as error:
        context.exit(say(error, debug=debug))
    for line in lines:
        click.echo(line)


def _compared(wanted: tuple[str, str], given: GivenSettings, out: Path, cache: Path) -> list[str]:
    """Write film and strip, and tell which reps they show, why these, and where both lie."""
    from pipeline.commands.rep_choice import choose_rep, split_clip_and_rep
    from pipeline.settings.side_file import read_side_file

    parts = [split_clip_and_rep(text) for text in wanted]
    paths = [Path(name) for name, _ in parts]
    reading = environment_reading()
    settings = [
        resolve(given, read_side_file(path), clip_name=path.name, reading=reading) for path in paths
    ]
    for each in settings:
        LogAsked(write=False).allow(each)
    # Only now the slow imports: a mistyped option is answered at once.
    from pipeline.analysis import analyse_clip
    from pipeline.commands.terminal import progress_bar
    from pipeline.feedback.words import words_of
    from pipeline.report.pictures.side_by_side import ComparedRep, write_side_by_side

    lines, sides, done = [], [], {}
    for path, own, (_, rep) in zip(paths, settings, parts, strict=True):
        if path not in done:
            with progress_bar(path.name) as on_progress:
                done[path] = analyse_clip(path, own, cache_dir=cache, on_progress=on_progress)
        choice = choose_rep(done[path].reps, rep, clip_name=path.name)
        lines.append(_told(done[path], choice))
        sides.append(
            ComparedRep(analysis=done[path], result=choice.result, hide_faces=own.hide_faces)
        )  # fmt: skip
    left, right = sides
    with progress_bar("compare") as on_progress:
        film, strip = write_side_by_side((left, right), out, on_progress=on_progress)
    words = words_of(left.analysis).overlay
    return [*lines, words["film"].format(path=film), words["pictures"].format(path=strip)]


def _told(analysis: Analysis, choice: RepChoice) -> str:
    from pipeline.feedback.words import words_of

    named = {"best": "picked_best", "latest": "picked_latest"}.get(choice.by, "picked")
    return (
        words_of(analysis)
        .overlay[named]
        .format(
            clip=analysis.clip.path.name,
            number=choice.result.rep.index,
            inside=choice.n_in_range,
            judged=choice.n_judged,
        )
    )
