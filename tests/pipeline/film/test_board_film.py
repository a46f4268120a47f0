"""Film of the board: the sharpest picture of each moment is the one that is looked at."""

import cv2
import numpy as np
import pytest

from pipeline.core.errors import EmptyClip
from pipeline.film.board_film import MOMENT_S, read_board_film
from tests.fixtures.board_film import SIZE_PX, good_pictures


def colour(grey):
    return np.repeat(grey[..., None], 3, axis=2)


@pytest.mark.slow
def test_the_sharpest_picture_of_each_moment_is_used(write_film):
    sharp = [colour(picture) for picture in good_pictures()[6:9]]
    soft = [cv2.GaussianBlur(picture, (0, 0), 1.2) for picture in sharp]
    pictures = [each for pair in zip(soft, sharp, strict=True) for each in pair]
    times_s = [m * MOMENT_S + shift for m in range(3) for shift in (0.01, 0.11)]
    told = []
    film = read_board_film(
        write_film("board.mp4", pictures, times_s=times_s), on_progress=told.append
    )
    assert [view.frame for view in film.views] == [1, 3, 5]
    assert film.n_looked_at == 3
    assert film.size_px == SIZE_PX
    assert told[-1].done == 6


@pytest.mark.slow
def test_the_picture_is_upright_and_its_turn_is_kept(write_film):
    stored = np.ascontiguousarray(np.rot90(colour(good_pictures()[7]), 1))
    film = read_board_film(write_film("board.mp4", [stored] * 2, rotation_deg=-90))
    assert film.size_px == SIZE_PX
    assert film.rotation_deg == 90
    assert film.views


def test_a_film_without_the_board_has_no_views(write_film):
    film = read_board_film(write_film(n_frames=8, size_px=(320, 240)))
    assert film.views == ()
    assert film.n_looked_at == 2


def test_no_film_is_told(tmp_path):
    path = tmp_path / "board.mp4"
    path.write_bytes(b"")
    with pytest.raises(EmptyClip):
        read_board_film(path)
