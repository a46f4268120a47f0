"""Pictures fit into a page together, and stay as they are where there is room."""

import cv2
import numpy as np
import pytest

from pipeline.report.page_pictures import SMALL_WIDTH_PX, STEPS, page_pictures
from pipeline.report.pictures.rep_picture import encode_jpeg


@pytest.fixture(scope="module")
def noisy():
    """A picture that is hard to compress, as film of grass is."""
    noise = np.random.default_rng(0).integers(0, 255, (300, 320, 3), dtype=np.uint8)
    return encode_jpeg(cv2.resize(noise, (960, 900), interpolation=cv2.INTER_LINEAR))


def test_where_there_is_room_the_picture_is_the_one_that_was_drawn(noisy):
    fitted = page_pictures({1: noisy})[1]
    assert fitted.data == noisy
    assert (fitted.width_px, fitted.height_px) == (960, 900)
    assert fitted.small_width_px <= SMALL_WIDTH_PX


@pytest.mark.slow
def test_many_pictures_are_made_smaller_in_proportion(noisy):
    most = 40 * len(noisy) // 5
    fitted = page_pictures(dict.fromkeys(range(1, 41), noisy), most_bytes=most)
    assert sum(len(p.data) + len(p.small) for p in fitted.values()) <= most
    one = fitted[7]
    shown = cv2.imdecode(np.frombuffer(one.data, np.uint8), cv2.IMREAD_COLOR)
    assert shown.shape[:2] == (one.height_px, one.width_px)
    assert one.width_px / one.height_px == pytest.approx(960 / 900, rel=0.01)


def test_no_picture_is_made_too_small_to_read(noisy):
    (fitted,) = page_pictures({1: noisy}, most_bytes=10).values()
    assert fitted.width_px == STEPS[-1][0]


def test_what_is_no_picture_is_left_out():
    assert page_pictures({1: b"no picture"}) == {}
