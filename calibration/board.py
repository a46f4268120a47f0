"""The calibration board: its layout, and a sheet that prints it at its true size.

A ChArUco board is a chessboard with a coded marker in each white square, so that a corner is known
by number even when only a part of the board is seen [1]_.

References
----------
.. [1] S. Garrido-Jurado et al., "Automatic generation and detection of highly reliable fiducial
   markers under occlusion", *Pattern Recognition* 47(6), 2014, 2280-2292 (the markers).
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from pipeline.core.messages import Texts, shipped

if TYPE_CHECKING:
    from PIL.Image import Image

N_COLUMNS, N_ROWS = 7, 9
SQUARE_MM = 25.0
MARKER_OF_SQUARE = 0.72
"""A marker of 18 mm has six fields of 3 mm, and all of these are whole pixels of the sheet."""

PAPER_MM: Mapping[str, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
PIXELS_PER_MM = 10
"""Every edge of board, bar and paper then falls between two pixels: nothing is rounded."""

CHECK_BAR_MM = 100.0
ENDINGS = (".pdf", ".png")

_MM_PER_INCH = 25.4
_TOP_MM = 15.0
_BAR_BELOW_BOARD_MM = 7.0
_TEXT_MM = 3.4


def charuco_board(square_mm: float = SQUARE_MM) -> Any:  # noqa: ANN401 - OpenCV has no types
    """Make the board as OpenCV knows it.

    Parameters
    ----------
    square_mm
        Side of a square as it was printed.

    Returns
    -------
    cv2.aruco.CharucoBoard
        Inner corners in mm from the outer corner of the first square; 48 of them.
    """
    import cv2

    return cv2.aruco.CharucoBoard(
        (N_COLUMNS, N_ROWS),
        square_mm,
        MARKER_OF_SQUARE * square_mm,
        cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50),
    )


def board_picture(square_px: int) -> npt.NDArray[np.uint8]:
    """Draw the bare board.

    Parameters
    ----------
    square_px
        Side of a square; a multiple of 25 keeps every marker field a whole number of pixels.

    Returns
    -------
    numpy.ndarray
        (9 `square_px`, 7 `square_px`) grey levels, 0 or 255.
    """
    drawn = charuco_board().generateImage((N_COLUMNS * square_px, N_ROWS * square_px))
    return np.asarray(drawn, np.uint8)


def board_sheet(paper: str, texts: Texts | None = None) -> Image:
    """Draw the sheet: the board, a bar to check its size, and what to do with it.

    Parameters
    ----------
    paper
        A key of `PAPER_MM`.
    texts
        Texts of the reader's language; None = English.

    Returns
    -------
    PIL.Image.Image
        Black and white, `PIXELS_PER_MM` pixels a millimetre.
    """
    from PIL import Image, ImageDraw, ImageFont

    texts = texts or shipped()
    width, height = (_px(side_mm) for side_mm in PAPER_MM[paper])
    sheet = Image.new("L", (width, height), 255)
    board = board_picture(_px(SQUARE_MM))
    left, top = (width - board.shape[1]) // 2, _px(_TOP_MM)
    sheet.paste(Image.fromarray(board), (left, top))
    draw = ImageDraw.Draw(sheet)
    font = ImageFont.load_default(_px(_TEXT_MM))
    bar_top = top + board.shape[0] + _px(_BAR_BELOW_BOARD_MM)
    bar_height, end_height = _px(1.0), _px(4.0)
    right = left + _px(CHECK_BAR_MM)
    # A rectangle of Pillow includes its last pixel.
    draw.rectangle((left, bar_top, right - 1, bar_top + bar_height - 1), fill=0)
    for end_left in (left, right - bar_height):
        low = bar_top - (end_height - bar_height) // 2
        draw.rectangle((end_left, low, end_left + bar_height - 1, low + end_height - 1), fill=0)
    draw.text(
        (right + _px(4.0), bar_top + bar_height // 2),
        texts.text("board_sheet.measure_bar", bar=CHECK_BAR_MM),
        font=font, fill=0, anchor="lm",
    )  # fmt: skip
    for line, words in enumerate(
        (
            texts.text("board_sheet.print", square=SQUARE_MM),
            texts.text("board_sheet.glue"),
        )
    ):
        place = (left, bar_top + _px(6.0) + line * _px(1.5 * _TEXT_MM))
        draw.text(place, words, font=font, fill=0, anchor="la")
    return sheet.point(lambda level: 255 if level > 127 else 0).convert("1")


def board_file(paper: str, ending: str, texts: Texts | None = None) -> bytes:
    """Give the sheet as a PDF of one page, or as a PNG, at its true size.

    Parameters
    ----------
    paper
        A key of `PAPER_MM`.
    ending
        One of `ENDINGS`.
    texts
        Texts of the reader's language; None = English.

    Returns
    -------
    bytes
        The content of the file.
    """
    texts = texts or shipped()
    sheet = board_sheet(paper, texts)
    per_inch = PIXELS_PER_MM * _MM_PER_INCH
    file = io.BytesIO()
    if ending == ".pdf":
        sheet.save(file, "PDF", resolution=per_inch, title=texts.text("board_sheet.title"))
    else:
        sheet.save(file, "PNG", dpi=(per_inch, per_inch))
    return file.getvalue()


def _px(length_mm: float) -> int:
    return round(length_mm * PIXELS_PER_MM)
