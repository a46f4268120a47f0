"""The camera from marks of known place on the field (grade A), or which mark is wrong.

A frame that is written left-handed (x to the left of someone who looks along y) is refused and not
turned over silently: in a picture of a goal it looks the same as left and right exchanged.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import reduce
from itertools import combinations
from typing import TypeVar

import numpy as np

from calibration.marked_camera import fit_marked_camera, seen_at_px
from calibration.marks import FocalPrior, Mark, MarkedCamera, places_m, points_px
from pipeline.core.errors import MarksError
from pipeline.core.messages import message
from pipeline.core.types import FloatArray

FEWEST_MARKS = 4

ON_ONE_LINE = 0.01
"""Spread across a line, as a share of that along it, below which the marks are on the line."""

REFUSED_PROBABILITY = 1e-4
"""Marks as sure as stated would fit this badly by chance once in so many films."""

EXPLAINED_PROBABILITY = 1e-3
CLEARLY_BETTER = 10.0
"""Difference of two sums of squares from which on the smaller alone explains (odds of 150)."""

GREATEST_RELATIVE_HEIGHT_U = 0.3
"""Relative uncertainty of the camera's height above which the marks do not settle it."""

_Key = TypeVar("_Key")


def solve_marked_field(
    marks: Sequence[Mark], *, principal_px: FloatArray, prior: FocalPrior
) -> MarkedCamera:
    """Find the camera that sees the marks where they are seen.

    Parameters
    ----------
    marks
        At least four, not all on one line; image points of the straight picture.
    principal_px
        (2,) principal point, px.
    prior
        The focal length without the marks.

    Returns
    -------
    MarkedCamera

    Raises
    ------
    MarksError
        Too few marks, all on one line, none that a camera could see so, or marks that do not fit
        together; where one mark or one exchange of two explains it, they are named.
    """
    _check_spread(marks)
    found = fit_marked_camera(marks, principal_px=principal_px, prior=prior)
    if not found or not _fits(found[0], REFUSED_PROBABILITY):
        raise _what_is_wrong(marks, principal_px, prior, found)
    best = found[0]
    _check_settled(best, found[1:])
    return best


def _check_spread(marks: Sequence[Mark]) -> None:
    if len(marks) < FEWEST_MARKS:
        raise MarksError.of("few_marks", n=len(marks), needed=FEWEST_MARKS)
    for points, error_key in (
        (places_m(marks), "marks_on_one_line_on_field"),
        (points_px(marks), "marks_on_one_line_in_picture"),
    ):
        spread = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
        if spread[1] <= ON_ONE_LINE * spread[0] or spread[0] == 0.0:
            raise MarksError.of(error_key)


def _check_settled(best: MarkedCamera, others: Sequence[MarkedCamera]) -> None:
    u_m = best.uncertainty("height_m")
    if u_m > GREATEST_RELATIVE_HEIGHT_U * best.height_m:
        raise MarksError.of("camera_height_open", height=best.height_m, u=u_m)
    for other in others:
        is_as_good = other.chi_squared - best.chi_squared < CLEARLY_BETTER
        apart_m = abs(other.height_m - best.height_m)
        if is_as_good and apart_m > 5 * u_m:
            raise MarksError.of("two_cameras", one=best.height_m, other=other.height_m)


def _fits(camera: MarkedCamera, probability: float) -> bool:
    """Tell whether a sum of squares this great is more probable than that (chi-squared test)."""
    from scipy.special import chdtri

    if camera.n_spare == 0:
        return False  # fits whatever the marks are, and so proves nothing
    return bool(camera.chi_squared <= chdtri(camera.n_spare, probability))


def _what_is_wrong(
    marks: Sequence[Mark],
    principal_px: FloatArray,
    prior: FocalPrior,
    found: Sequence[MarkedCamera],
) -> MarksError:
    """Make the error: an exchange, one wrong mark, a mirrored frame, or only that it does not fit.

    An exchange that explains comes first, because it explains all marks and leaves none out.
    """

    def best_of(changed: Sequence[Mark]) -> MarkedCamera | None:
        cameras = fit_marked_camera(changed, principal_px=principal_px, prior=prior)
        good = [camera for camera in cameras if _fits(camera, EXPLAINED_PROBABILITY)]
        return good[0] if good else None

    swaps = {
        (marks[i].name, marks[j].name): best_of(_exchanged(marks, i, j))
        for i, j in combinations(range(len(marks)), 2)
    }
    swapped = _most_probable(swaps)
    if swapped:
        pairs = [message("mark_pairs.pair", one=one, other=other) for one, other in swapped]
        any_of = reduce(
            lambda one, other: message("mark_pairs.either", one=one, other=other), pairs
        )
        return MarksError.of("marks_exchanged", pairs=any_of)
    left_out = {
        i: best_of([*marks[:i], *marks[i + 1 :]])
        for i in range(len(marks))
        if len(marks) > FEWEST_MARKS
    }
    wrong = _most_probable(left_out)
    if wrong:
        return _wrong_mark(marks, {i: left_out[i] for i in wrong}, principal_px)
    mirrored = [replace(m, field_m=(-m.field_m[0], *m.field_m[1:])) for m in marks]
    if best_of(mirrored) is not None:
        return MarksError.of("marks_mirrored")
    if not found:
        return MarksError.of("no_camera_sees_marks")
    furthest = int(np.argmax(found[0].residual_px))
    return MarksError.of(
        "marks_do_not_fit",
        off=float(found[0].residual_px[furthest]),
        mark=marks[furthest].name,
    )


def _most_probable(cameras: dict[_Key, MarkedCamera | None]) -> list[_Key]:
    """Give the changes that explain, without those that explain clearly worse than the best."""
    good = {key: camera.chi_squared for key, camera in cameras.items() if camera is not None}
    least = min(good.values(), default=0.0)
    return [key for key, chi_squared in good.items() if chi_squared - least < CLEARLY_BETTER]


def _exchanged(marks: Sequence[Mark], i: int, j: int) -> list[Mark]:
    """Give the marks with the image points of two of them exchanged."""
    changed = list(marks)
    changed[i] = replace(marks[i], image_px=marks[j].image_px)
    changed[j] = replace(marks[j], image_px=marks[i].image_px)
    return changed


def _wrong_mark(
    marks: Sequence[Mark], without: dict[int, MarkedCamera | None], principal_px: FloatArray
) -> MarksError:
    """Name the mark that the others speak against, or the few of which one is wrong."""
    errors: dict[str, MarksError] = {}
    for i, camera in without.items():
        if camera is None:
            continue
        seen_px = seen_at_px(camera, places_m([marks[i]]), principal_px)[0]
        off_px = float(np.linalg.norm(seen_px - np.array(marks[i].image_px)))
        name = marks[i].name
        errors[name] = (
            MarksError.of("mark_does_not_fit", mark=name, off=off_px)
            if np.isfinite(off_px)
            else MarksError.of("mark_out_of_view", mark=name)
        )
    if len(errors) == 1:
        return next(iter(errors.values()))
    return MarksError.of("one_of_marks_does_not_fit", marks=", ".join(f"'{n}'" for n in errors))
