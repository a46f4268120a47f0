"""Settings of an analysis: from the command line, the file beside the clip, or a default."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any, Literal

from models import DEFAULT_MODEL, MODELS, UNNAMED_MODEL, bundle_path
from pipeline.core.catalogue import ENGLISH, METRIC, Language, Units
from pipeline.core.errors import SettingsError
from pipeline.settings.checks import DEFAULT_LEVEL
from pipeline.settings.locale import USUAL_READING, Locale

SIDE_FILE_SUFFIX = ".clip.toml"

OF_AGE_YEARS = 18.0
"""Below this age faces always stay hidden."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SideFile:
    """Content of `NAME.clip.toml` beside the clip; None = not given.

    Attributes
    ----------
    path
        The file, or None.
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
    language, units
        In which the person reads who filmed it.
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
    language: Language | None = None
    units: Units | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenSettings:
    """What was given on the command line; None = not given. Fields as in `AnalysisSettings`."""

    stature_m: float | None = None
    move: str | None = None
    level: str | None = None
    athlete: str | None = None
    age_years: float | None = None
    model: str | None = None
    fov_deg: float | None = None
    lens_path: Path | None = None
    marks_path: Path | None = None
    true_fps: float | None = None
    athlete_at: tuple[float, float] | None = None
    targets_path: Path | None = None
    hide_faces: bool = True
    every_frame: bool = True
    explain: bool = False
    seed: int = 0
    language: Language | None = None
    units: Units | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AnalysisSettings:
    """All settings of one analysis.

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
        Age of the athlete, for the rules of youth play; None = unknown.
    arm_length_m
        Arm of the athlete by tape, for ranges in arm lengths; None = by published proportion.
    model
        Pose model: one of `models.MODELS`, or the path of a bundle.
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
        Whether faces are made unrecognisable in every picture that is written; those of a minor
        always are.
    every_frame
        Whether the pose model runs on every frame, or only where something may happen.
    explain
        Whether to list the sources of each number's uncertainty; takes a few times as long.
    seed
        Of the draws that carry the uncertainty.
    stick_hand
        Side of the top hand if known; None = found from the film.
    language, units
        Language and units of the report. Measured, kept and written to tables is
        always in metres and seconds.
    """

    stature_m: float
    move: str | None = None
    level: str = DEFAULT_LEVEL
    athlete: str | None = None
    age_years: float | None = None
    arm_length_m: float | None = None
    model: str = UNNAMED_MODEL
    fov_deg: float | None = None
    lens_path: Path | None = None
    marks_path: Path | None = None
    true_fps: float | None = None
    athlete_at: tuple[float, float] | None = None
    targets_path: Path | None = None
    hide_faces: bool = True
    every_frame: bool = True
    explain: bool = False
    seed: int = 0
    stick_hand: Literal["left", "right"] | None = None
    language: Language = ENGLISH
    units: Units = METRIC

    def __post_init__(self) -> None:
        if not self.hide_faces and self.age_years is not None and self.age_years < OF_AGE_YEARS:
            age = f"{self.age_years:g}"
            raise SettingsError.of("faces_stay_hidden", age=age, of_age=OF_AGE_YEARS)

    @property
    def model_path(self) -> Path:
        """Where the bundle of the pose model lies."""
        return bundle_path(self.model)


def resolve(
    given: GivenSettings, side: SideFile, *, clip_name: str, reading: Locale = USUAL_READING
) -> AnalysisSettings:
    """Settle each setting: the command line beats the side file, the side file beats the default.

    Parameters
    ----------
    given
        From the command line.
    side
        From the file beside the clip.
    clip_name
        For the message.
    reading
        Language and units where neither sets any, from the environment.

    Raises
    ------
    SettingsError
        No stature from either, or faces of a minor were to be shown.
    """
    stature_m = side.stature_m if given.stature_m is None else given.stature_m
    if stature_m is None:
        side_file = f"{Path(clip_name).stem}{SIDE_FILE_SUFFIX}"
        raise SettingsError.of("stature_not_known", clip=clip_name, side_file=side_file)
    # A field of view on the command line replaces the side file's lens.
    side_lens_path = side.lens_path if given.fov_deg is None else None
    return AnalysisSettings(
        stature_m=stature_m,
        move=given.move or side.move,
        level=given.level or side.level or DEFAULT_LEVEL,
        athlete=given.athlete or side.athlete,
        age_years=side.age_years if given.age_years is None else given.age_years,
        arm_length_m=side.arm_length_m,
        model=given.model or DEFAULT_MODEL,
        fov_deg=given.fov_deg,
        lens_path=given.lens_path or side_lens_path,
        marks_path=given.marks_path or side.marks_path,
        true_fps=given.true_fps,
        athlete_at=given.athlete_at,
        targets_path=given.targets_path,
        hide_faces=given.hide_faces,
        every_frame=given.every_frame,
        explain=given.explain,
        seed=given.seed,
        stick_hand=side.stick_hand,
        language=given.language or side.language or reading.language,
        units=given.units or side.units or reading.units,
    )


NAMED_FILES = ("lens_path", "marks_path", "targets_path")
"""Settings that name a small file; its content decides the results."""


def settings_text(settings: AnalysisSettings) -> str:
    """Write settings as JSON; files by their whole paths."""
    table = asdict(settings)
    for name in NAMED_FILES:
        path: Path | None = table[name]
        table[name] = None if path is None else str(path.resolve())
    if settings.model not in MODELS:
        table["model"] = str(settings.model_path.resolve())
    return json.dumps(table, sort_keys=True)


def settings_of_text(text: str) -> AnalysisSettings:
    """Read settings that `settings_text` wrote; names of other versions are passed over.

    Raises
    ------
    ValueError
        It is something else.
    """
    try:
        table: dict[str, Any] = dict(json.loads(text))
        known = {field.name: table[field.name] for field in fields(AnalysisSettings)
                 if field.name in table}  # fmt: skip
        for name in NAMED_FILES:
            known[name] = None if known.get(name) is None else Path(known[name])
        if "model_path" in table:  # before models had names: null was the full one
            known["model"] = table["model_path"] or UNNAMED_MODEL
        if known.get("athlete_at") is not None:
            x, y = known["athlete_at"]
            known["athlete_at"] = (float(x), float(y))
        return AnalysisSettings(**known)
    except (TypeError, ValueError, AttributeError) as error:
        raise ValueError("not the settings of an analysis") from error
