"""Draws one frame of an output film: hidden faces, skeletons, measures and text."""

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
"""Blocks across a head: fewer than in a still, because many frames together reveal more."""

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
        Part of the frame to show.
    joints_px
        (n_people, 23, 2) joints in the image frame; NaN for people who must be hidden entirely.
    heads_px
        (n, 3) circles from `FilmHeads.circles_px`.
    hide_faces
        Whether to hide all faces, including those of untracked people.

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
    """Draw skeletons, measures and text on a frame of an output film, in place.

    Parameters
    ----------
    picture
        (height, width, 3).
    joints_px
        (n_people, 23, 2) joints of the people to draw, in its pixels; NaN where unknown.
    marks
        Measures in its pixels.
    top, slow, clock
        Text in the top left corner, text of a slow repeat below it, and the time in the top right
        corner; empty for none.
    """
    draw_skeletons(picture, joints_px, dots=True)
    edge = max(4, picture.shape[0] // 60)
    occupied: list[tuple[int, int, int, int]] = []
    y = edge
    for words, colour in [*((text, INK) for text in top), *((text, SLOW) for text in slow)]:
        occupied.append(write_label(picture, words, (edge, y), colour))
        y = occupied[-1][3] + edge // 2
    if clock:
        occupied.append(write_label(picture, clock, (-edge, edge), INK))
    draw_marks(picture, marks, occupied)


def _block_px(heads: FloatArray, picture: Picture) -> float:
    """Return the side of the blocks by the largest head, in coarse steps to avoid flicker."""
    radii = heads[np.isfinite(heads[:, 2]), 2]
    if not radii.size:
        return float(min(picture.shape[:2])) / 4.0 / BLOCKS_PER_HEAD
    exact = max(4.0, 2.0 * float(radii.max()) / BLOCKS_PER_HEAD)
    return float(_BLOCK_STEP ** np.ceil(np.log(exact) / np.log(_BLOCK_STEP)))
