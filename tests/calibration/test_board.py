"""The sheet that is printed: true to size to the pixel, and readable by what has to find it."""

import io
import re

import cv2
import numpy as np
import pytest
from PIL import Image

from calibration.board import (
    CHECK_BAR_MM,
    MARKER_OF_SQUARE,
    N_COLUMNS,
    N_ROWS,
    PAPER_MM,
    SQUARE_MM,
    board_file,
    board_sheet,
    charuco_board,
)
from calibration.board_views import BoardFinder
from pipeline.core.catalogue import LANGUAGES
from pipeline.core.messages import shipped

N_CORNERS = (N_COLUMNS - 1) * (N_ROWS - 1)


def dark_runs(row):
    """Lengths of the dark runs of a row of pixels."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], (row == 0).astype(int), [0]])))
    return edges[1::2] - edges[::2]


@pytest.fixture(scope="module", params=PAPER_MM)
def sheet(request):
    return request.param, np.uint8(board_sheet(request.param).convert("L"))


def test_squares_and_bar_measure_what_they_say(sheet):
    paper, grey = sheet
    width_mm, height_mm = PAPER_MM[paper]
    assert (grey.shape[1], grey.shape[0]) == (round(10 * width_mm), round(10 * height_mm))
    first = np.flatnonzero((grey == 0).any(axis=1))[0]
    assert dark_runs(grey[first + 10]).tolist() == [10 * SQUARE_MM] * 4
    below = grey[first + round(10 * SQUARE_MM * N_ROWS) + 20 :]
    assert max(dark_runs(row).max(initial=0) for row in below) == 10 * CHECK_BAR_MM


def test_board_stays_clear_of_the_margin_that_printers_leave(sheet):
    _, grey = sheet
    rows, columns = np.flatnonzero((grey == 0).any(axis=1)), np.flatnonzero((grey == 0).any(axis=0))
    edge_px = min(rows[0], columns[0], grey.shape[0] - rows[-1], grey.shape[1] - columns[-1])
    assert edge_px > 10 * 12


def test_every_corner_is_found_on_the_sheet_where_it_was_drawn(sheet):
    _, grey = sheet
    view = BoardFinder().find(
        cv2.resize(grey, None, fx=0.3, fy=0.3, interpolation=cv2.INTER_AREA), 0
    )
    assert view.corner.tolist() == list(range(N_CORNERS))
    first_px = (
        np.flatnonzero((grey == 0).any(axis=0))[0],
        np.flatnonzero((grey == 0).any(axis=1))[0],
    )
    drawn_px = (10 * SQUARE_MM * view.board_squares[:, :2] + first_px) * 0.3
    assert np.abs(view.image_px - drawn_px).max() < 0.15


def test_the_finders_numbers_are_the_librarys_own():
    view_squares = np.array(charuco_board(1.0).getChessboardCorners())
    grey = np.uint8(board_sheet("a4").convert("L"))
    small = cv2.resize(grey, None, fx=0.3, fy=0.3, interpolation=cv2.INTER_AREA)
    view = BoardFinder().find(small, 0)
    assert view.board_squares == pytest.approx(view_squares[view.corner])
    assert MARKER_OF_SQUARE * SQUARE_MM == 18.0


@pytest.mark.parametrize("paper", PAPER_MM)
def test_what_to_do_is_said_in_the_language_asked_for_and_the_board_is_the_same(paper):
    english, spanish = (
        np.uint8(board_sheet(paper, shipped(language)).convert("L")) for language in LANGUAGES
    )
    assert np.array_equal(english, np.uint8(board_sheet(paper).convert("L")))
    differ = np.flatnonzero((english != spanish).any(axis=1))
    assert differ[0] > 10 * (SQUARE_MM * N_ROWS + 15)
    columns = np.flatnonzero((spanish == 0).any(axis=0))
    assert columns[-1] < spanish.shape[1] - 10 * 12


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_sheets_font_has_every_letter_that_is_said_on_it(language):
    assert all(said.isascii() for said in shipped(language).table["board_sheet"].values())


@pytest.mark.parametrize("paper", PAPER_MM)
def test_pdf_is_one_page_of_the_papers_size(paper):
    pdf = board_file(paper, ".pdf")
    assert pdf.startswith(b"%PDF")
    (box,) = re.findall(rb"MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", pdf)
    points = [25.4 / 72 * float(side) for side in box]
    assert points == pytest.approx(PAPER_MM[paper], abs=0.01)


def test_png_says_its_resolution():
    with Image.open(io.BytesIO(board_file("a4", ".png"))) as picture:
        assert picture.info["dpi"] == pytest.approx((254, 254))
        assert picture.size == (2100, 2970)
