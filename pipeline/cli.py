"""The command line: reads options, runs one clip after the other, prints what came out."""

from __future__ import annotations

import json
import tempfile
from pathlib import Path
from typing import Any

import click

from pipeline import __version__
from pipeline.calibrate_cli import calibrate
from pipeline.check_cli import check_command
from pipeline.command import CONTEXT, say
from pipeline.compare_cli import compare_command
from pipeline.corrections_cli import corrections
from pipeline.drills_cli import drills
from pipeline.errors import CrossemetryError, OutputError, SettingsError
from pipeline.film_options import FACES
from pipeline.measures.table import known_moves
from pipeline.overlay_cli import overlay_command, overlay_of
from pipeline.setting_checks import (
    LEVELS,
    check_age_years,
    check_athlete,
    check_field_of_view_deg,
    check_level,
    check_move,
    check_place_px,
    check_stature_m,
    check_true_rate_hz,
)
from pipeline.settings import SIDE_FILE_SUFFIX, GivenSettings, resolve
from pipeline.targets_cli import targets
from pipeline.teach_cli import teach


@click.group(context_settings=CONTEXT)
@click.version_option(__version__, prog_name="crossemetry", message="%(prog)s %(version)s")
def main() -> None:
    """Turn phone film of lacrosse reps into numbers with honest uncertainty, and plain words.

    \b
    Example:
        crossemetry analyse sample_clips/*.mp4
    """


main.add_command(calibrate)
main.add_command(check_command)
main.add_command(targets)
main.add_command(teach)
main.add_command(drills)
main.add_command(corrections)
main.add_command(overlay_command)
main.add_command(compare_command)


@main.command(context_settings=CONTEXT)
@click.argument(
    "clips", nargs=-1, required=True, metavar="CLIP...", type=click.Path(path_type=Path)
)
@click.option("--stature", metavar="METRES", help="Stature of the athlete, barefoot, e.g. 1.80.")
@click.option(
    "--move",
    metavar="MOVE",
    help=f"Which move the clip shows, if it is one all the way: {', '.join(known_moves())}, or "
    "the name of a drill that you taught.  [default: found rep by rep]",
)
@click.option("--level", metavar="LEVEL", help=f"Level of play: {', '.join(LEVELS)}.")
@click.option("--age", metavar="YEARS", help="Age of the athlete, for the rules of youth play.")
@click.option(
    "--athlete", metavar="NAME", help="Who it is, a name or a code, for ranges of their own."
)
@click.option(
    "--out", default="out", show_default=True, metavar="FOLDER", type=click.Path(path_type=Path),
    help="Where the results go, one folder per clip.",
)  # fmt: skip
@click.option(
    "--targets",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Target ranges of the coach (TOML).  [default: targets.toml in the data folder]",
)
@click.option(
    "--athlete-at", metavar="X,Y",
    help="Where the athlete stands in the first frame, in pixels from the left and the top.",
)  # fmt: skip
@click.option(
    "--fov-deg",
    metavar="DEGREES",
    help="Field of view of the camera along the long side of the picture, if it is known.",
)
@click.option(
    "--lens",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Lens profile of the phone (TOML), made by crossemetry calibrate lens.",
)
@click.option(
    "--marks",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Marks of known place on the field (TOML), as this one clip's first frame shows them.",
)
@click.option(
    "--true-fps", metavar="RATE",
    help="Frames a second the phone filmed at, for a slow-motion clip that plays slowly.",
)  # fmt: skip
@click.option(
    "--model", metavar="FILE", type=click.Path(path_type=Path),
    help="Another pose model bundle (.task).",
)  # fmt: skip
@click.option(
    "--cache",
    metavar="FOLDER",
    type=click.Path(path_type=Path),
    help="Where body landmarks are kept for the next time.  [default: FOLDER of --out/.cache]",
)
@click.option(
    "--explain", is_flag=True, help="Say for each number what makes it unsure, and what would help."
)
@click.option(
    "--overlay", is_flag=True,
    help="Write the reps as film too, with skeleton and measures on it; takes longer.",
)  # fmt: skip
@FACES
@click.option(
    "--json", "as_json", is_flag=True, help="Print the results as JSON; a list if several clips."
)
@click.option("--debug", is_flag=True, help="Show where in the program an error arose.")
@click.pass_context
def analyse(
    context: click.Context,
    /,
    clips: tuple[Path, ...],
    out: Path,
    cache: Path | None,
    as_json: bool,
    overlay: bool,
    debug: bool,
    **options: Any,  # noqa: ANN401 - the remaining options, as click names them
) -> None:
    """Measure the reps in one or more clips and write a report on each.

    What is not given here is read from NAME.clip.toml beside NAME.mp4, if there is such a file.

    \b
    Example:
        crossemetry analyse sample_clips/*.mp4 --out out
    """
    try:
        given = _given_settings(n_clips=len(clips), **options)
        _check_files(given)
        _make_writable_folder(out)
    except CrossemetryError as error:
        context.exit(say(str(error), error, debug=debug))
    exit_code = 0
    results: list[dict[str, Any]] = []
    folders: set[str] = set()
    for clip in clips:
        try:
            # Compared without case: the file systems of two of the three platforms do so too.
            if clip.stem.casefold() in folders:
                raise SettingsError(
                    f"{clip.name}: another clip of this run has the same name.",
                    what_to_do="Analyse it on its own with another --out folder.",
                )
            folders.add(clip.stem.casefold())
            text, result = _analyse_one(clip, given, out, cache or out / ".cache", overlay=overlay)
        except CrossemetryError as error:
            exit_code = max(exit_code, say(_with_name(clip, error), error, debug=debug))
        except Exception as error:
            message = f"{clip.name}: failed inside the program ({type(error).__name__}: {error})."
            advice = "" if debug else " Run it again with --debug and report what it prints."
            exit_code = max(exit_code, say(message + advice, error, debug=debug))
        else:
            results.append(result)
            if not as_json:
                click.echo(text)
    if as_json and results:
        click.echo(json.dumps(results if len(clips) > 1 else results[0], indent=2))
    context.exit(exit_code)


def _given_settings(
    *,
    n_clips: int,
    stature: str | None,
    move: str | None,
    level: str | None,
    athlete: str | None,
    age: str | None,
    targets: Path | None,
    athlete_at: str | None,
    fov_deg: str | None,
    lens: Path | None,
    marks: Path | None,
    true_fps: str | None,
    model: Path | None,
    explain: bool,
    hide_faces: bool,
) -> GivenSettings:
    """Turn the options as typed into checked values; raises `SettingsError`."""
    if lens is not None and fov_deg is not None:
        raise SettingsError(
            "--lens and --fov-deg both say how wide the camera sees.",
            what_to_do="Give one of them; the lens profile is the better one.",
        )
    if marks is not None and n_clips > 1:
        raise SettingsError(
            "--marks is for one clip, because its points are those of one picture.",
            what_to_do='Write marks = "marks.toml" into NAME.clip.toml beside each clip; a phone '
            "that was not moved in between may use the same file.",
        )
    return GivenSettings(
        stature_m=None if stature is None else check_stature_m(stature, named="--stature"),
        move=None if move is None else check_move(move, named="--move"),
        level=None if level is None else check_level(level, named="--level"),
        athlete=None if athlete is None else check_athlete(athlete, named="--athlete"),
        age_years=None if age is None else check_age_years(age, named="--age"),
        model_path=model,
        fov_deg=None if fov_deg is None else check_field_of_view_deg(fov_deg, named="--fov-deg"),
        lens_path=lens,
        marks_path=marks,
        true_fps=None if true_fps is None else check_true_rate_hz(true_fps, named="--true-fps"),
        athlete_at=(
            None if athlete_at is None else check_place_px(athlete_at, named="--athlete-at")
        ),
        targets_path=targets,
        hide_faces=hide_faces,
        explain=explain,
    )


def _check_files(given: GivenSettings) -> None:
    """Read the files that were named; raises `SettingsError` if one cannot be used."""
    from pipeline.targets import coach_targets_path, load_targets

    load_targets(coach_targets_path(given.targets_path))
    if given.lens_path is not None:
        from calibration.lens_file import read_lens_profile

        read_lens_profile(given.lens_path)
    if given.marks_path is not None:
        from calibration.marks_file import read_marks

        read_marks(given.marks_path)


def _analyse_one(
    clip: Path, given: GivenSettings, out: Path, cache: Path, *, overlay: bool
) -> tuple[str, dict[str, Any]]:
    """Analyse a clip and write its results; returns the summary and the results as written."""
    from pipeline.side_file import read_side_file

    settings = resolve(given, read_side_file(clip), clip_name=clip.name)
    # Only now the slow imports: a mistyped option is answered at once.
    from pipeline.run import analyse_clip, write_analysis
    from pipeline.terminal import EarlyFindings, progress_bar, summary

    early = EarlyFindings(clip.name)
    with progress_bar(clip.name) as on_progress:
        analysis = analyse_clip(
            clip, settings, cache_dir=cache, on_progress=on_progress, on_findings=early
        )
        written = write_analysis(analysis, out, settings=settings, cache_dir=cache)
        if overlay:
            written += overlay_of(analysis, written[0].parent, settings, on_progress)
    tables = [path for path in written if path.name == "reps.json"]
    result = json.loads(tables[0].read_text(encoding="utf-8")) if tables else {}
    return summary(analysis, written, early.notes), result


def _make_writable_folder(folder: Path) -> None:
    """Make the folder and try it, so that a long analysis does not end in nothing."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        raise OutputError(
            f"{folder}: results cannot be written there ({error.strerror}).",
            what_to_do="Choose another folder with --out.",
        ) from error


def _with_name(clip: Path, error: CrossemetryError) -> str:
    """Give the message with the clip's name in front, once."""
    message = str(error)
    named = message.startswith((clip.name, clip.stem + SIDE_FILE_SUFFIX))
    return message if named else f"{clip.name}: {message}"
