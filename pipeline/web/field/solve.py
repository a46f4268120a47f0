"""Solves the camera from marks for the field page, or reports what is wrong."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from calibration.lens_profile import distort_px
from calibration.marked_camera import seen_at_px
from calibration.marked_field import FEWEST_MARKS
from calibration.marks import Mark, places_m
from pipeline.core.errors import MarksError
from pipeline.core.messages import in_a_row, message
from pipeline.core.types import FloatArray, LensProfile
from pipeline.scene.from_marks import SceneMarks, solve_scene_marks

_MOST_LINES = 24
_GRID_STEPS_M = (1.0, 2.0, 5.0, 10.0, 50.0, 250.0)
_POINTS_PER_LINE = 60


def view_of_marks(
    marks: Sequence[Mark],
    *,
    size_px: tuple[int, int],
    fov_deg: float | None,
    lens: LensProfile | None,
) -> dict[str, Any]:
    """Solve the camera and describe the result.

    Parameters
    ----------
    marks
        As clicked.
    size_px
        Width and height of the picture.
    fov_deg, lens
        Field of view in degrees, or lens profile; None = not known.

    Returns
    -------
    dict
        `state` is "few", "wrong" or "solved", and `words` describes it in one or two sentences.
        `wrong` names the marks at fault. A solved camera adds `residual_px` and `seen_px` by name,
        and `grid`: lines of points in px on the ground, `grid_m` metres apart.
    """
    n_missing = FEWEST_MARKS - len(marks)
    if n_missing > 0:
        more = message("field.one_more" if n_missing == 1 else "field.more", n=n_missing)
        return {"state": "few", "words": more, "wrong": []}
    try:
        solved = solve_scene_marks(marks, size_px=size_px, fov_deg=fov_deg, lens=lens)
    except MarksError as error:
        wrong = [mark.name for mark in marks if f"'{mark.name}'" in error.message]
        words = in_a_row(error.message, error.what_to_do)
        return {"state": "wrong", "words": words, "wrong": wrong}
    step_m, grid = _grid(marks, solved, size_px, lens)
    residuals = dict(zip(solved.camera.names, solved.camera.residual_px, strict=True))
    points_px = _on_film(solved, places_m(marks), lens)
    return {
        "state": "solved",
        "words": _camera_words(solved, size_px),
        "wrong": [],
        "residual_px": {name: round(float(px), 1) for name, px in residuals.items()},
        "seen_px": {
            mark.name: point.round(1).tolist()
            for mark, point in zip(marks, points_px, strict=True)
            if np.isfinite(point).all()
        },
        "grid_m": step_m,
        "grid": grid,
    }


def _camera_words(solved: SceneMarks, size_px: tuple[int, int]) -> str:
    camera = solved.camera
    view_deg = math.degrees(2 * math.atan(0.5 * max(size_px) / camera.focal_px))
    furthest = int(np.argmax(camera.residual_px))
    return message(
        f"field.solved_by_{'marks' if camera.focal_is_from_marks else 'lens'}",
        height=camera.height_m,
        half_width=2 * camera.uncertainty("height_m"),
        view=view_deg,
        mark=camera.names[furthest],
        off=float(camera.residual_px[furthest]),
    )


def _on_film(solved: SceneMarks, field_m: FloatArray, lens: LensProfile | None) -> FloatArray:
    """Image points (n, 2) on the film of places (n, 3); NaN behind the camera."""
    straight = seen_at_px(solved.camera, field_m, solved.principal_px)
    return straight if lens is None else distort_px(lens, straight)


def _grid(
    marks: Sequence[Mark],
    solved: SceneMarks,
    size_px: tuple[int, int],
    lens: LensProfile | None,
) -> tuple[float, list[list[list[float]]]]:
    """Spacing in metres and the lines of a grid on the ground around the marks."""
    places = places_m(marks)[:, :2]
    low, high = np.floor(places.min(axis=0)) - 1.0, np.ceil(places.max(axis=0)) + 1.0
    step_m = next(
        (step for step in _GRID_STEPS_M if max(high - low) <= step * _MOST_LINES),
        _GRID_STEPS_M[-1],
    )
    low, high = np.floor(low / step_m) * step_m, np.ceil(high / step_m) * step_m
    lines: list[list[list[float]]] = []
    share = np.linspace(0.0, 1.0, _POINTS_PER_LINE)
    for axis in (0, 1):
        for level in np.arange(low[axis], high[axis] + 0.5 * step_m, step_m):
            line_m = np.zeros((_POINTS_PER_LINE, 3))
            line_m[:, axis] = level
            line_m[:, 1 - axis] = low[1 - axis] + share * (high[1 - axis] - low[1 - axis])
            lines += _pieces(_on_film(solved, line_m, lens), size_px)
    return step_m, lines


def _pieces(points_px: FloatArray, size_px: tuple[int, int]) -> list[list[list[float]]]:
    """Stretches of a line in or near the picture, each of two points or more."""
    centre = 0.5 * np.array(size_px)
    with np.errstate(invalid="ignore"):
        near = np.asarray((np.abs(points_px - centre) < 1.2 * centre).all(axis=1))
    pieces: list[list[list[float]]] = []
    piece: list[list[float]] = []
    for point, is_near in zip(points_px, near, strict=True):
        if is_near:
            piece.append(point.round(1).tolist())
        elif piece:
            pieces.append(piece)
            piece = []
    return [line for line in [*pieces, piece] if len(line) > 1]
