"""Written film: its form, its times, and that it is there whole or not at all."""

import av
import numpy as np
import pytest

from pipeline.core.errors import OutputError
from pipeline.film.writer import film_size_px, open_film_writer

TIMES_S = [0.0, 0.033, 0.1, 0.104, 0.5, 1.25]


def picture(level=90, size_px=(64, 48)):
    return np.full((size_px[1], size_px[0], 3), level, np.uint8)


def written(path):
    with open_film_writer(path, (64, 48)) as film:
        for level, time_s in zip(range(40, 200, 25), TIMES_S, strict=False):
            film.write(picture(level), time_s)
    return path


def test_each_picture_has_its_own_time_and_content(tmp_path):
    with av.open(str(written(tmp_path / "film.mp4"))) as film:
        frames = list(film.decode(video=0))
    assert [frame.time for frame in frames] == pytest.approx(TIMES_S, abs=1e-4)
    levels = [float(frame.to_ndarray(format="rgb24").mean()) for frame in frames]
    assert levels == pytest.approx([40, 65, 90, 115, 140, 165], abs=4)


def test_it_is_h264_that_phones_play_with_the_index_in_front_and_no_sound(tmp_path):
    path = written(tmp_path / "film.mp4")
    with av.open(str(path)) as film:
        (stream,) = film.streams
        assert (stream.codec_context.name, stream.pix_fmt) == ("h264", "yuv420p")
        assert "location" not in "".join(film.metadata).lower()
    data = path.read_bytes()
    assert data.index(b"moov") < data.index(b"mdat")


def test_a_film_that_breaks_off_leaves_what_was_there(tmp_path):
    path = tmp_path / "film.mp4"
    path.write_bytes(b"before")

    def break_off():
        with open_film_writer(path, (64, 48)) as film:
            film.write(picture(), 0.0)
            raise RuntimeError("on the way")

    with pytest.raises(RuntimeError, match="on the way"):
        break_off()
    assert path.read_bytes() == b"before"
    assert [each.name for each in tmp_path.iterdir()] == ["film.mp4"]


def test_a_place_that_cannot_be_written_to_is_named(tmp_path):
    (tmp_path / "file").write_text("no folder")
    with (
        pytest.raises(OutputError, match=r"film.mp4.*--out"),
        open_film_writer(tmp_path / "file" / "film.mp4", (64, 48)),
    ):
        pass


def test_a_picture_of_another_size_is_refused(tmp_path):
    with (
        pytest.raises(ValueError, match="64"),
        open_film_writer(tmp_path / "film.mp4", (64, 48)) as film,
    ):
        film.write(picture(size_px=(48, 64)), 0.0)


@pytest.mark.parametrize("size_px", [(3840, 2160), (1081, 1919), (641, 361), (3, 5)])
def test_sizes_are_even_and_fit_a_phone(size_px):
    width, height = film_size_px(*size_px)
    assert width % 2 == height % 2 == 0
    assert 2 <= max(width, height) <= 1280
    if min(size_px) > 100:
        assert width / height == pytest.approx(size_px[0] / size_px[1], rel=0.01)
