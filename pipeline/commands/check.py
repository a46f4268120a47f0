"""The command that checks whether a film is suitable before a long analysis."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline.commands.help import command, option
from pipeline.commands.installation import complete_move
from pipeline.commands.shared import debug_option, locale_options, report_error
from pipeline.core.errors import CrossemetryError
from pipeline.core.move_table import known_moves
from pipeline.settings.checks import check_move, check_stature_m, check_true_rate_hz
from pipeline.settings.locale import check_language, check_units

if TYPE_CHECKING:
    from pipeline.core.messages import Texts
    from pipeline.film_check.finding import Finding


@command("check", help="check")
@click.argument("clip", metavar="CLIP", type=click.Path(path_type=Path))
@option(
    "--move", metavar="MOVE", shell_complete=complete_move, help="check.move",
    placeholders={"moves": ", ".join(known_moves())},
)  # fmt: skip
@option("--stature", metavar="METRES", help="check.stature")
@option("--lens", metavar="FILE", type=click.Path(path_type=Path), help="options.lens")
@option("--true-fps", metavar="RATE", help="options.true_fps")
@locale_options
@option("--json", "as_json", is_flag=True, help="check.json")
@debug_option
@click.pass_context
def check_command(
    context: click.Context,
    /,
    clip: Path,
    as_json: bool,
    debug: bool,
    language: str | None,
    units: str | None,
    **options: Any,  # noqa: ANN401
) -> None:
    """Check from a few frames whether a film is suitable."""
    try:
        texts = _texts(clip, language, units)
        findings = _findings(clip, **options)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug, of=clip))
    if as_json:
        document = {
            "schema": "crossemetry.check/1",
            "clip": clip.name,
            "findings": [finding.as_dict() for finding in findings],
        }
        click.echo(json.dumps(document, indent=2))
    else:
        from pipeline.film_check.finding import finding_lines, heading

        click.echo(
            "\n".join([heading(clip.name, findings, texts), *finding_lines(findings, texts)])
        )


def _texts(clip: Path, language: str | None, units: str | None) -> Texts:
    """Load the texts by the options, the clip's side file or the environment."""
    from pipeline.feedback.words import load_words
    from pipeline.settings.side_file import read_side_file

    side = read_side_file(clip)
    in_language = (
        side.language if language is None else check_language(language, named="--language")
    )
    in_units = side.units if units is None else check_units(units, named="--units")
    return load_words(language=in_language, units=in_units).texts


def _findings(
    clip: Path, *, move: str | None, stature: str | None, lens: Path | None, true_fps: str | None
) -> tuple[Finding, ...]:
    """Check a clip; raises `CrossemetryError`."""
    from pipeline.settings.side_file import read_side_file

    move = None if move is None else check_move(move, named="--move")
    stature_m = None if stature is None else check_stature_m(stature, named="--stature")
    rate_hz = None if true_fps is None else check_true_rate_hz(true_fps, named="--true-fps")
    side = read_side_file(clip)
    move, stature_m = move or side.move, stature_m or side.stature_m
    # Slow imports come after the checks, so that a mistyped option fails at once.
    from models import bundle_path
    from pipeline.film.undistort import read_lens
    from pipeline.film_check.check import check_film
    from pipeline.film_check.finding import CheckRequest
    from pipeline.film_check.samples import CHECK_MODEL, sample_film
    from pipeline.people.pose_model import PoseModel
    from pipeline.teaching.drill_store import requested_drill

    profile = read_lens(lens or side.lens_path, clip)
    samples = sample_film(clip, PoseModel(bundle_path(CHECK_MODEL)))
    drill = requested_drill(move)
    move = move if drill is None else drill.like
    request = CheckRequest(move=move, stature_m=stature_m, lens=profile, true_fps=rate_hz)
    return check_film(samples, request)
