"""Tiles leave no place unseen, and what is found is looked at twice."""

import numpy as np
import pytest

from pipeline.people.detection import find_people, first_tiles, later_tiles
from pipeline.people.pose_model import Window
from tests.fixtures.standing import standing

RGB = np.full((360, 640, 3), 90, np.uint8)


@pytest.mark.parametrize(("width", "height"), [(1280, 720), (720, 1280), (240, 135), (3840, 2160)])
def test_the_first_tiles_show_every_place_large_and_small(width, height):
    tiles = first_tiles(width, height)
    assert len(tiles) < 30
    for side in {tile.side_px for tile in tiles}:
        seen = np.zeros((height, width), bool)
        for tile in (tile for tile in tiles if tile.side_px == side):
            rows = slice(max(tile.top_px, 0), max(tile.top_px + side, 0))
            columns = slice(max(tile.left_px, 0), max(tile.left_px + side, 0))
            seen[rows, columns] = True
        assert seen.all()


def test_later_tiles_run_along_the_ground_on_which_someone_stands():
    tiles = later_tiles(1280, 720, standing(200, 400, 120))
    assert {tile.top_px < 340 < 460 < tile.top_px + tile.side_px for tile in tiles} == {True}
    assert min(tile.left_px for tile in tiles) <= 0
    assert max(tile.left_px + tile.side_px for tile in tiles) >= 1280
    assert len(tiles) < 12


class Finder:
    """Gives one answer after the other."""

    def __init__(self, *answers):
        self.answers = list(answers)

    def find(self, _region, _window):
        return self.answers.pop(0) if self.answers else []


TILE = [Window(0, -140, 640)]


def test_what_the_second_look_confirms_is_found_as_it_saw_it():
    second = standing(303, 201, 118)
    assert find_people(RGB, TILE, [], Finder([standing(300, 200)], [second])) == [second]


@pytest.mark.parametrize("second", [[], [standing(360, 200)], [standing(300, 200, 40)]])
def test_what_the_second_look_does_not_confirm_is_nobody(second):
    assert find_people(RGB, TILE, [], Finder([standing(300, 200)], second)) == []


def test_those_already_followed_are_not_found_again():
    known = [standing(300, 200)]
    small_inside = standing(304, 195, 50)
    assert find_people(RGB, TILE, known, Finder([standing(302, 200), small_inside])) == []
