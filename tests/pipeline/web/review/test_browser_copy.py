"""Copies for browsers: upright, playable, every frame at the very time that the film has for it."""

import time
from fractions import Fraction

import av
import numpy as np
import pytest

from pipeline.film.clip import open_clip
from pipeline.film.container import packet_stamps
from pipeline.web.review.browser_copy import ProxyMaker, main, make_proxy, proxy_path, shown_size
from pipeline.web.review.film_times import film_times
from tests.fixtures.rep_films import grey_of, stamps_of, write_numbered


@pytest.fixture
def phone_film(tmp_path):
    """A film in HEVC of 10 bits, of uneven times that do not begin at 0."""
    told = {"pix_fmt": "yuv420p10le", "x265-params": "log-level=none"}
    return write_numbered(tmp_path / "phone.mp4", stamps_of(40), "libx265", **told)


def greys(path):
    with open_clip(path) as reader:
        return [float(frame.rgb.mean()) for frame in reader]


@pytest.mark.slow
def test_a_copy_has_the_same_frames_at_the_same_times(phone_film, tmp_path):
    copy = tmp_path / "copy.mp4"
    assert make_proxy(phone_film, copy) == 40
    film, made = film_times(phone_film), film_times(copy)
    assert film.media_type is None
    assert made.media_type == "video/mp4"
    assert made.time_base == film.time_base
    assert np.array_equal(made.stamps, film.stamps)
    assert np.array_equal(made.stamps, stamps_of(40))
    assert greys(copy) == pytest.approx([grey_of(number) for number in range(40)], abs=2.5)
    with av.open(str(copy)) as container:
        (stream,) = container.streams
        assert (stream.codec_context.name, stream.pix_fmt) == ("h264", "yuv420p")
    head = copy.read_bytes()
    assert head.index(b"moov") < head.index(b"mdat")  # it plays before all of it is there


@pytest.mark.parametrize("rotation_deg", [90, 180, -90])
def test_a_copy_stands_upright(write_film, tmp_path, rotation_deg):
    pictures = [np.zeros((48, 64, 3), np.uint8) for _ in range(4)]
    for picture in pictures:
        picture[:16, :16] = 255
    film = write_film("turned.mp4", pictures, rotation_deg=rotation_deg)
    make_proxy(film, tmp_path / "copy.mp4")
    with open_clip(film) as right, open_clip(tmp_path / "copy.mp4") as made:
        assert made.rotation_deg == 0
        assert (made.width_px, made.height_px) == (right.width_px, right.height_px)
        for one, other in zip(right, made, strict=True):
            assert abs(one.rgb.astype(float) - other.rgb).mean() < 8


def test_a_large_or_uneven_picture_is_made_one_that_can_be_coded():
    assert shown_size(3840, 2160) == (1920, 1080)
    assert shown_size(2160, 3840) == (1080, 1920)
    assert shown_size(641, 361) == (640, 360)
    assert shown_size(1, 3) == (2, 4)


def test_what_is_no_film_gives_no_copy(tmp_path, capsys):
    (tmp_path / "text.mp4").write_text("no film")
    assert main([str(tmp_path / "text.mp4"), str(tmp_path / "copy.mp4")]) == 1
    assert "text.mp4" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["text.mp4"]


@pytest.mark.parametrize(
    ("codec", "name", "pix_fmt", "played"),
    [("libx264", "a.mp4", "yuv420p", "video/mp4"), ("libx264", "a.mov", "yuv420p", "video/mp4"),
     ("libx264", "a.mkv", "yuv420p", None), ("libvpx", "a.webm", "yuv420p", "video/webm"),
     ("libx264", "a.mp4", "yuv422p10le", None)],
)  # fmt: skip
def test_what_a_browser_plays_is_told(write_film, codec, name, pix_fmt, played):
    assert film_times(write_film(name, codec=codec, pix_fmt=pix_fmt)).media_type == played


def test_a_mirrored_film_is_not_left_to_the_browser(write_film):
    assert film_times(write_film(flip=True)).media_type is None
    assert film_times(write_film(rotation_deg=90)).media_type == "video/mp4"


def test_times_are_those_of_the_film_to_the_last_tick(write_film):
    path = write_film(times_s=[0.5, 0.51, 0.6, 0.85], n_frames=4)
    times = film_times(path)
    assert times.time_base == Fraction(1, 90_000)
    assert np.array_equal(times.stamps, packet_stamps(path)[0])
    assert times.seconds() == pytest.approx([0.5, 0.51, 0.6, 0.85], abs=1e-9)


def made(maker, target):
    for _ in range(600):
        if maker.state(target) != "making":
            break
        time.sleep(0.05)
    return maker.state(target)


@pytest.mark.slow
def test_a_copy_is_made_once_by_another_process(phone_film, tmp_path):
    maker, target = ProxyMaker(), proxy_path(tmp_path / "cache", "ab" * 32)
    assert maker.state(target) == "none"
    assert maker.request(phone_film, target) == "making"
    assert made(maker, target) == "ready"
    changed = target.stat().st_mtime_ns
    assert maker.request(phone_film, target) == "ready"
    assert target.stat().st_mtime_ns == changed
    assert np.array_equal(film_times(target).stamps, stamps_of(40))


@pytest.mark.slow
def test_a_copy_that_fails_is_told_and_not_tried_forever(tmp_path):
    (tmp_path / "text.mp4").write_text("no film")
    maker, target = ProxyMaker(), tmp_path / "copy.mp4"
    maker.request(tmp_path / "text.mp4", target)
    assert made(maker, target) == "failed"
    assert maker.request(tmp_path / "text.mp4", target) == "failed"
