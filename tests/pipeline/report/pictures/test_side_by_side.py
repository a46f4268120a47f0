"""Two reps beside each other: aligned at the key event, on one clock, film and strip."""

import av
import cv2
import numpy as np
import pytest

from pipeline.feedback.words import load_words
from pipeline.report.pictures.side_by_side import (
    INSTANTS_S,
    PANEL_PX,
    ComparedRep,
    _clock,
    aligned_frames,
    write_side_by_side,
)
from tests.fixtures.filmed import analysis_of

pytestmark = pytest.mark.slow


def side(write_film, name, times_s, key_s):
    pictures = [np.full((64, 96, 3), 90, np.uint8)] * len(times_s)
    path = write_film(name, pictures, times_s=times_s)
    analysis = analysis_of(path, [(key_s - 0.4, key_s + 0.4, key_s)])
    return ComparedRep(analysis=analysis, result=analysis.reps[0])


@pytest.fixture
def sides(write_film):
    """A film of 60 frames a second, and one of about 30 with uneven times."""
    rng = np.random.default_rng(6)
    uneven = np.cumsum(rng.choice([0.03, 0.04], 60))
    quick = side(write_film, "quick.mp4", np.arange(150) / 60, 1.21)
    slow = side(write_film, "slow.mp4", uneven - uneven[0], 0.95)
    return quick, slow


def test_both_are_within_half_a_frame_of_one_clock(sides):
    from_key_s, frames = aligned_frames(sides, 0.5)
    assert np.all(np.diff(from_key_s) > 0)
    for each, own, half_s in zip(sides, frames, (1 / 120, 0.021), strict=True):
        assert np.abs(each.from_key_s[own] - from_key_s).max() <= half_s
    assert np.abs(from_key_s).max() <= 0.5
    swapped_s, (second, first) = aligned_frames(sides[::-1], 0.5)
    assert np.array_equal(swapped_s, from_key_s)
    assert np.array_equal(first, frames[0])
    assert np.array_equal(second, frames[1])


def test_a_rep_at_the_very_start_of_its_film_waits_for_the_other(write_film, sides):
    early = side(write_film, "early.mp4", np.arange(60) / 30, 0.1)
    from_key_s, (_, own) = aligned_frames((sides[0], early), 1.0)
    assert from_key_s[0] == pytest.approx(-1.0, abs=0.02)
    assert own[0] == 0


def test_film_and_strip_show_both_in_one_height(sides, tmp_path):
    film, strip = write_side_by_side(sides, tmp_path / "out")
    assert film.name == "quick_rep_01_and_slow_rep_01.mp4"
    with av.open(str(film)) as written:
        frames = list(written.decode(video=0))
        assert written.streams.video[0].codec_context.name == "h264"
    assert (frames[0].width, frames[0].height) == (2 * PANEL_PX[0], PANEL_PX[1])
    # Two seconds at true speed, one second four times slower.
    assert frames[-1].time == pytest.approx(2.0 + 4.0, abs=0.15)
    picture = cv2.imread(str(strip))
    assert picture.shape == (2 * 480, len(INSTANTS_S) * 360, 3)


@pytest.mark.parametrize(
    ("language", "expected"),
    [
        ("en", ("0.50 s before", "key moment", "1.25 s after")),
        ("es", ("0,50 s antes", "momento clave", "1,25 s después")),
    ],
)
def test_the_clock_is_written_as_in_the_language(language, expected):
    words = load_words(language=language)
    assert tuple(_clock(from_key_s, words) for from_key_s in (-0.5, 0.001, 1.25)) == expected
