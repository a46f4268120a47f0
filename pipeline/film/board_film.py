"""Film of the calibration board: looks for the board in the sharpest picture of each moment."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from calibration.board_views import BoardFinder, BoardView, picture_sharpness
from pipeline.core.progress import Progress, ProgressCallback, ignore_progress
from pipeline.film.clip import open_clip

MOMENT_S = 0.2
"""The board is looked for once in this time: it does not move on much, and looking takes long."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardFilm:
    """What was seen of the board.

    Attributes
    ----------
    size_px
        Width and height of the upright picture.
    rotation_deg
        Clockwise turn that made it upright.
    n_looked_at
        Pictures in which the board was looked for.
    views
        Those in which it was found.
    """

    size_px: tuple[int, int]
    rotation_deg: int
    n_looked_at: int
    views: tuple[BoardView, ...]


def read_board_film(path: Path, *, on_progress: ProgressCallback = ignore_progress) -> BoardFilm:
    """Find the board in a film.

    Parameters
    ----------
    path
        The film.
    on_progress
        Told the frames done.

    Returns
    -------
    BoardFilm

    Raises
    ------
    ClipError
        The film cannot be used.
    """
    import cv2

    finder = BoardFinder()
    views: list[BoardView] = []
    n_looked_at = 0
    moment, sharpest = -1, -1.0
    kept: tuple[npt.NDArray[np.uint8], int] | None = None

    def look() -> None:
        nonlocal n_looked_at
        if kept is not None:
            n_looked_at += 1
            view = finder.find(*kept)
            if view is not None:
                views.append(view)

    with open_clip(path) as reader:
        for frame in reader:
            grey = np.asarray(cv2.cvtColor(frame.rgb, cv2.COLOR_RGB2GRAY), np.uint8)
            sharpness = picture_sharpness(grey)
            if int(frame.time_s / MOMENT_S) != moment:
                look()
                moment, sharpest, kept = int(frame.time_s / MOMENT_S), -1.0, None
            if sharpness > sharpest:
                sharpest, kept = sharpness, (grey, frame.index)
            on_progress(
                Progress(
                    stage="looking_for_board",
                    done=frame.index + 1,
                    total=reader.n_frames_expected,
                )
            )
        look()
        clip = reader.clip()
    return BoardFilm(
        size_px=(clip.width_px, clip.height_px),
        rotation_deg=clip.rotation_deg,
        n_looked_at=n_looked_at,
        views=tuple(views),
    )
