"""What an analysis is told: from the command line, the file beside the clip, or a default."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from pipeline.errors import SettingsError
from pipeline.measures.table import known_moves
from pipeline.toml_file import nearest

SIDE_FILE_SUFFIX = ".clip.toml"
STATURE_RANGE_M = (0.8, 2.4)
FIELD_OF_VIEW_RANGE_DEG = (10.0, 140.0)
TRUE_RATE_RANGE_HZ = (1.0, 2000.0)
AGE_RANGE_YEARS = (3.0, 100.0)
LEVELS = ("any", "youth", "school", "college", "adult")
DEFAULT_LEVEL = "any"
LONGEST_NAME = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class SideFile:
    """What `NAME.clip.toml` beside the clip says; None = not said.

    Attributes
    ----------
    path
        The file, None when there is none.
    stature_m
        Stature of the athlete.
    move, level
        Move that the clip shows; level of play.
    athlete
        Who it is.
    age_years
        Age of the athlete.
    athlete, arm_length_m
        Who it is; length of the arm by tape, shoulder to finger tip.
    stick_hand
        Side of the top hand.
    lens_path
        Lens profile of the phone.
    marks_path
        Marks on the field.
    invented
        Whether the clip was made and not filmed.
    note
        Free words.
    """

    path: Path | None = None
    stature_m: float | None = None
    move: str | None = None
    level: str | None = None
    athlete: str | None = None
    age_years: float | None = None
    arm_length_m: float | None = None
    stick_hand: Literal["left", "right"] | None = None
    lens_path: Path | None = None
    marks_path: Path | None = None
    invented: bool = False
    note: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenSettings:
    """What was given on the command line; None = not given. Fields as in `AnalysisSettings`."""

    stature_m: float | None = None
    move: str | None = None
    level: str | None = None
    athlete: str | None = None
    age_years: float | None = None
    model_path: Path | None = None
    fov_deg: float | None = None
    lens_path: Path | None = None
    marks_path: Path | None = None
    true_fps: float | None = None
    athlete_at: tuple[float, float] | None = None
    targets_path: Path | None = None
    hide_faces: bool = True
    explain: bool = False
    seed: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class AnalysisSettings:
    """Everything that one analysis is told.

    Attributes
    ----------
    stature_m
        Stature of the athlete, barefoot.
    move
        Key in the move table; None = the program finds out, rep by rep.
    level
        Level of play, which chooses the target ranges.
    athlete
        Who it is, a name or a code, which chooses them too; None = nobody in particular.
    age_years
        Age of the athlete, for the rules of youth play; None = not told.
    arm_length_m
        Arm of the athlete by tape, for ranges in arm lengths; None = by published proportion.
    model_path
        Pose model bundle; None = the one that comes along.
    fov_deg
        Field of view of the camera along the long side of the picture; None = typical phone.
    lens_path
        Lens profile of the phone, in place of the field of view; None = no profile.
    marks_path
        Marks of known place on the field; None = the scale comes from the athlete.
    true_fps
        Rate at which a re-timed slow-motion clip was filmed; None = the file's times are true.
    athlete_at
        (x, y) in px of the upright first frame where the athlete stands; None = found by itself.
    targets_path
        The coach's target ranges; None = those in the data folder, if there are any.
    hide_faces
        Whether faces are made unrecognisable in every picture that is written.
    explain
        Whether to say of each number which source makes it unsure; takes a few times as long.
    seed
        Of the draws that carry the uncertainty.
    stick_hand
        Side of the top hand when it was told; None = found from the film.
    """

    stature_m: float
    move: str | None = None
    level: str = DEFAULT_LEVEL
    athlete: str | None = None
    age_years: float | None = None
    arm_length_m: float | None = None
    model_path: Path | None = None
    fov_deg: float | None = None
    lens_path: Path | None = None
    marks_path: Path | None = None
    true_fps: float | None = None
    athlete_at: tuple[float, float] | None = None
    targets_path: Path | None = None
    hide_faces: bool = True
    explain: bool = False
    seed: int = 0
    stick_hand: Literal["left", "right"] | None = None


def check_stature_m(value: float | str, *, named: str) -> float:
    """Return a stature in metres, or say why it cannot be one.

    Parameters
    ----------
    value
        A number, or the text that was typed.
    named
        How the value is called where it was given, e.g. ``--stature``.

    Raises
    ------
    SettingsError
        Not a number, or outside 0.8 to 2.4 m.
    """
    low, high = STATURE_RANGE_M
    return _number_between(
        value, low, high, named=named, what=f"a stature between {low} and {high} m",
        what_to_do="Give it in metres, e.g. 1.80.",
    )  # fmt: skip


def check_age_years(value: float | str, *, named: str) -> float:
    """Return an age in years, or raise `SettingsError`."""
    low, high = AGE_RANGE_YEARS
    return _number_between(
        value, low, high, named=named, what=f"an age between {low:g} and {high:g} years",
        what_to_do="Give it in years, e.g. 12, or leave it out.",
    )  # fmt: skip


def check_field_of_view_deg(value: float | str, *, named: str) -> float:
    """Return a field of view in degrees, or raise `SettingsError`."""
    low, high = FIELD_OF_VIEW_RANGE_DEG
    return _number_between(
        value, low, high, named=named, what=f"a field of view between {low:g} and {high:g} degrees",
        what_to_do="Give the angle along the long side of the picture, e.g. 65, or leave it out.",
    )  # fmt: skip


def check_true_rate_hz(value: float | str, *, named: str) -> float:
    """Return a rate of filming in frames per second, or raise `SettingsError`."""
    low, high = TRUE_RATE_RANGE_HZ
    return _number_between(
        value, low, high, named=named, what=f"a rate between {low:g} and {high:g} frames a second",
        what_to_do="Give the rate the phone filmed at, e.g. 240, or leave it out.",
    )  # fmt: skip


def check_place_px(value: str, *, named: str) -> tuple[float, float]:
    """Return a place in the picture from text such as ``640,360``, or raise `SettingsError`."""
    try:
        x_px, y_px = (float(part) for part in value.split(","))
    except ValueError:
        x_px = y_px = math.nan
    if not (math.isfinite(x_px) and math.isfinite(y_px) and x_px >= 0 and y_px >= 0):
        raise SettingsError(
            f"{named} {value}: not a place in the picture.",
            what_to_do="Give pixels from the left and from the top, e.g. 640,360.",
        )
    return x_px, y_px


def check_level(value: str, *, named: str) -> str:
    """Return a level of play, or raise `SettingsError` with the nearest one."""
    return _one_of(value, LEVELS, named=named, what="a level of play")


def check_athlete(value: str, *, named: str) -> str:
    """Return a name or code of an athlete without blanks around it, or raise `SettingsError`."""
    name = value.strip()
    # Printable only: a name is shown in terminals, where other signs could act and not show.
    if not 0 < len(name) <= LONGEST_NAME or not name.isprintable() or name.lower() == DEFAULT_LEVEL:
        raise SettingsError(
            f"{named}: not a name or a code that can be used for an athlete.",
            what_to_do=f"Give up to {LONGEST_NAME} letters, digits and signs, e.g. 7 or K. M.; "
            "to mean nobody in particular, leave it out.",
        )
    return name


def check_move(value: str, *, named: str) -> str:
    """Return the key of a move, or raise `SettingsError` with the nearest one."""
    return _one_of(value, known_moves(), named=named, what="a move this program measures")


def resolve(given: GivenSettings, side: SideFile, *, clip_name: str) -> AnalysisSettings:
    """Settle each setting: the command line beats the side file, the side file beats the default.

    Parameters
    ----------
    given
        From the command line.
    side
        From the file beside the clip.
    clip_name
        For the message.

    Raises
    ------
    SettingsError
        No stature from either.
    """
    stature_m = side.stature_m if given.stature_m is None else given.stature_m
    if stature_m is None:
        raise SettingsError(
            f"{clip_name}: the athlete's stature is not known, and without it nothing can be "
            "measured in metres.",
            what_to_do="Give it in metres, e.g. --stature 1.80, or as stature_m = 1.80 in "
            f"{Path(clip_name).stem}{SIDE_FILE_SUFFIX} beside the clip.",
        )
    # A field of view that is typed says how wide the camera sees, and so does the side file's lens.
    side_lens_path = side.lens_path if given.fov_deg is None else None
    return AnalysisSettings(
        stature_m=stature_m,
        move=given.move or side.move,
        level=given.level or side.level or DEFAULT_LEVEL,
        athlete=given.athlete or side.athlete,
        age_years=side.age_years if given.age_years is None else given.age_years,
        arm_length_m=side.arm_length_m,
        model_path=given.model_path,
        fov_deg=given.fov_deg,
        lens_path=given.lens_path or side_lens_path,
        marks_path=given.marks_path or side.marks_path,
        true_fps=given.true_fps,
        athlete_at=given.athlete_at,
        targets_path=given.targets_path,
        hide_faces=given.hide_faces,
        explain=given.explain,
        seed=given.seed,
        stick_hand=side.stick_hand,
    )


def _number_between(
    value: float | str, low: float, high: float, *, named: str, what: str, what_to_do: str
) -> float:
    try:
        number = float(value)
    except ValueError:
        number = math.nan
    if not low <= number <= high:
        raise SettingsError(f"{named} {value}: not {what}.", what_to_do=what_to_do)
    return number


def _one_of(value: str, known: tuple[str, ...], *, named: str, what: str) -> str:
    if value in known:
        return value
    raise SettingsError(f"{named}: '{value}' is not {what}.", what_to_do=nearest(value, known))
