"""Runs of frames: the right ones, as often as they are asked for."""

import numpy as np
import pytest

from pipeline.film.clip import FrameRuns, open_clip
from tests.fixtures.filmed import analysis_of


@pytest.mark.slow
@pytest.mark.parametrize("options", [{}, {"bf": "3"}, {"bf": "0", "g": "5"}])
def test_a_run_is_read_wherever_it_lies_and_again(write_film, number_of, options):
    path = write_film(n_frames=30, options=options)
    runs = FrameRuns(analysis_of(path, []).clip)
    for first, stop in ((10, 14), (2, 5), (2, 5), (28, 40), (-3, 2)):
        seen = [(number, number_of(rgb)) for number, rgb in runs.read(first, stop)]
        expected = range(max(first, 0), min(stop, 30))
        assert seen == [(number, number) for number in expected]
    assert list(runs.read(8, 8)) == []


def test_frames_of_a_turned_film_stand_upright(write_film):
    picture = np.zeros((48, 64, 3), np.uint8)
    picture[:, :32] = 200
    path = write_film(pictures=[picture] * 4, rotation_deg=90)
    with open_clip(path) as reader:
        upright = [frame.rgb for frame in reader]
    ((_, rgb),) = FrameRuns(analysis_of(path, []).clip).read(2, 3)
    assert rgb.shape == (64, 48, 3)
    assert np.array_equal(rgb, upright[2])


def test_a_damaged_film_is_read_from_its_start(write_film, number_of):
    path = write_film(n_frames=30, options={"bf": "0", "g": "6"})
    data = bytearray(path.read_bytes())
    half = data.index(b"mdat") + (len(data) - data.index(b"mdat")) // 3
    data[half : half + 40] = bytes(40)
    path.write_bytes(data)
    clip = analysis_of(path, []).clip
    with open_clip(path) as reader:
        levels = [number_of(frame.rgb) for frame in reader]
    seen = [(number, number_of(rgb)) for number, rgb in FrameRuns(clip).read(3, clip.n_frames)]
    assert seen == list(enumerate(levels))[3:]
