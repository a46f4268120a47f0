"""Reads the first frame of a film for the field page, and checks the options."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np

from calibration.field_places import GOAL_SIZES
from calibration.lens_profile import for_picture
from calibration.marks_file import read_marks
from pipeline.core.errors import OutputError, SettingsError
from pipeline.core.toml_file import nearest
from pipeline.film.clip import open_clip
from pipeline.film.undistort import read_lens
from pipeline.settings.checks import check_field_of_view_deg
from pipeline.web.field.app import FieldPicture
from pipeline.web.field.suggest_marks import propose_marks


def field_picture(
    clip: Path,
    out: Path,
    goal: str | None = None,
    lens_path: Path | None = None,
    fov_deg: str | None = None,
) -> FieldPicture:
    """Check the options, and read the film's first frame.

    Parameters
    ----------
    clip, out
        The film, and the file of its marks.
    goal, lens_path, fov_deg
        As typed; None = not given.

    Raises
    ------
    CrossemetryError
        The film or an option cannot be used.
    """
    if goal is not None and goal not in GOAL_SIZES:
        raise SettingsError.of("no_such_goal", goal=goal, nearest=nearest(goal, GOAL_SIZES))
    if out.suffix.lower() != ".toml":  # otherwise a typing error could replace the film
        raise SettingsError.of("marks_not_toml", file=str(out))
    if not out.parent.is_dir():
        raise OutputError.of("no_folder_for_out", file=str(out))
    # Reading fails for another kind of file, so only a marks file is replaced.
    marks = read_marks(out) if out.exists() else ()
    view_deg = None if fov_deg is None else check_field_of_view_deg(fov_deg, named="--fov-deg")
    profile = read_lens(lens_path, clip)
    with open_clip(clip) as reader:
        frame = next(iter(reader))
        size_px, rotation_deg = (reader.width_px, reader.height_px), reader.rotation_deg
    lens = profile and for_picture(
        profile, width_px=size_px[0], height_px=size_px[1], rotation_deg=rotation_deg
    )
    return FieldPicture(
        clip_path=clip,
        picture=_encoded(frame.rgb),
        size_px=size_px,
        proposals=propose_marks(frame.rgb),
        out=out,
        marks=marks,
        goal=goal,
        fov_deg=view_deg,
        lens=lens,
    )


def _encoded(rgb: object) -> bytes:
    """Encode a picture as JPEG."""
    from PIL import Image

    file = io.BytesIO()
    Image.fromarray(np.asarray(rgb)).save(file, "JPEG", quality=95, subsampling=0)
    return file.getvalue()
