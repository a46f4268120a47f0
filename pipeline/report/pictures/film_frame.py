"""One picture of a film that people look at: faces hidden, skeleton, measures and words on it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pipeline.core.types import FloatArray
from pipeline.film.container import Picture
from pipeline.report.pictures.drawing import INK, Colour, draw_skeletons, write_label
from pipeline.report.pictures.faces import hide_faces_of_all
from pipeline.report.pictures.film_zoom import View
from pipeline.report.pictures.rep_picture import DrawnMeasure, draw_marks

SLOW: Colour = (255, 196, 61)

BLOCKS_PER_HEAD = 2.0
"""Blocks across a head: fewer than in a single picture, for many pictures together tell more."""

_BLOCK_STEP = 1.3


def shown_picture(
    picture: Picture,
    view: View,
    joints_px: FloatArray,
    heads_px: FloatArray,
    *,
    hide_faces: bool,
) -> Picture:
    """Cut a frame to a view and hide the faces in it.

    Parameters
    ----------
    picture
        (height, width, 3) upright frame of the film.
    view
        The part that is shown.
    joints_px
        (n_people, 23, 2) joints of those of whom something may be seen, in the image frame; NaN
        for those of whom nothing may.
    heads_px
        (n, 3) from `HeadsOverTime.circles_px`.
    hide_faces
        Whether to hide all faces, also those of people whom nobody follows.

    Returns
    -------
    (height, width, 3) array
        A new picture.
    """
    shown = view.cut(picture)
    if not hide_faces:
        return shown
    heads = view.circles(heads_px)
    return hide_faces_of_all(
        shown,
        view.points(joints_px),
        more_heads_px=heads,
        block_px=_block_px(heads, shown),
        outline="limbs",
    )


def draw_film_picture(
    picture: Picture,
    joints_px: FloatArray,
    marks: Sequence[DrawnMeasure],
    *,
    top: Sequence[str] = (),
    slow: Sequence[str] = (),
    clock: str = "",
) -> None:
    """Draw skeletons, marks and words on a picture of a film, in place.

    Parameters
    ----------
    picture
        (height, width, 3).
    joints_px
        (n_people, 23, 2) joints of those who are drawn, in its pixels; NaN where unknown.
    marks
        In its pixels.
    top, slow, clock
        Words in the top left corner, words of a slow repeat below them, and the time in the top
        right corner; empty for none.
    """
    draw_skeletons(picture, joints_px, dots=True)
    edge = max(4, picture.shape[0] // 60)
    taken: list[tuple[int, int, int, int]] = []
    y = edge
    for words, colour in [*((text, INK) for text in top), *((text, SLOW) for text in slow)]:
        taken.append(write_label(picture, words, (edge, y), colour))
        y = taken[-1][3] + edge // 2
    if clock:
        taken.append(write_label(picture, clock, (-edge, edge), INK))
    draw_marks(picture, marks, taken)


def _block_px(heads: FloatArray, picture: Picture) -> float:
    """Side of the blocks by the largest head, in coarse steps, or hidden parts would flicker."""
    radii = heads[np.isfinite(heads[:, 2]), 2]
    if not radii.size:
        return float(min(picture.shape[:2])) / 4.0 / BLOCKS_PER_HEAD
    exact = max(4.0, 2.0 * float(radii.max()) / BLOCKS_PER_HEAD)
    return float(_BLOCK_STEP ** np.ceil(np.log(exact) / np.log(_BLOCK_STEP)))
