"""Options of the commands that make film: what a clip is told, and how faces are treated."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from pipeline.errors import SettingsError
from pipeline.measures.table import known_moves
from pipeline.setting_checks import (
    LEVELS,
    check_age_years,
    check_field_of_view_deg,
    check_level,
    check_move,
    check_place_px,
    check_stature_m,
    check_true_rate_hz,
)
from pipeline.settings import GivenSettings

Command = TypeVar("Command", bound=Callable[..., Any])

FACES = click.option(
    "--hide-faces/--show-faces", "hide_faces", default=True, show_default=True,
    help="Hide all faces, or leave them visible; those of a minor stay hidden.",
)  # fmt: skip

_OPTIONS = (
    click.option("--stature", metavar="METRES", help="Stature of the athlete, barefoot."),
    click.option(
        "--move", metavar="MOVE",
        help=f"Which move the film shows: {', '.join(known_moves())}, or a drill of your own.",
    ),
    click.option("--level", metavar="LEVEL", help=f"Level of play: {', '.join(LEVELS)}."),
    click.option("--age", metavar="YEARS", help="Age of the athlete."),
    click.option("--athlete-at", metavar="X,Y", help="Where the athlete stands in frame one, px."),
    click.option("--fov-deg", metavar="DEGREES", help="Field of view of the camera, if known."),
    click.option(
        "--lens", metavar="FILE", type=click.Path(path_type=Path), help="Lens profile of the phone."
    ),
    click.option(
        "--marks", metavar="FILE", type=click.Path(path_type=Path), help="Marks on the field."
    ),
    click.option("--true-fps", metavar="RATE", help="Frames a second the phone filmed at."),
    click.option(
        "--cache", metavar="FOLDER", type=click.Path(path_type=Path),
        help="Where body landmarks are kept.  [default: FOLDER of --out/.cache]",
    ),
    FACES,
    click.option("--debug", is_flag=True, help="Show where in the program an error arose."),
)  # fmt: skip


def film_options(command: Command) -> Command:
    """Add the options that say of a clip what the film does not, as for an analysis."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


def given_for_film(
    *,
    stature: str | None,
    move: str | None,
    level: str | None,
    age: str | None,
    athlete_at: str | None,
    fov_deg: str | None,
    lens: Path | None,
    marks: Path | None,
    true_fps: str | None,
    hide_faces: bool,
) -> GivenSettings:
    """Turn the options as typed into checked values.

    Raises
    ------
    SettingsError
        A value cannot be what it says it is.
    """
    if lens is not None and fov_deg is not None:
        raise SettingsError(
            "--lens and --fov-deg both say how wide the camera sees.",
            what_to_do="Give one of them; the lens profile is the better one.",
        )
    return GivenSettings(
        stature_m=None if stature is None else check_stature_m(stature, named="--stature"),
        move=None if move is None else check_move(move, named="--move"),
        level=None if level is None else check_level(level, named="--level"),
        age_years=None if age is None else check_age_years(age, named="--age"),
        athlete_at=(
            None if athlete_at is None else check_place_px(athlete_at, named="--athlete-at")
        ),
        fov_deg=None if fov_deg is None else check_field_of_view_deg(fov_deg, named="--fov-deg"),
        lens_path=lens,
        marks_path=marks,
        true_fps=None if true_fps is None else check_true_rate_hz(true_fps, named="--true-fps"),
        hide_faces=hide_faces,
    )
