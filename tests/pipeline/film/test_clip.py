"""A film file becomes upright frames with the container's own times, or a sentence that helps."""

from __future__ import annotations

import hashlib
from pathlib import Path

import av
import numpy as np
import pytest

from pipeline.core.errors import EmptyClip, NoPictureStream, SettingsError, UnreadableClip
from pipeline.film.clip import open_clip, read_frames

UPRIGHT = np.zeros((48, 64, 3), np.uint8)  # red top left, green top right, blue bottom left
UPRIGHT[:24, :32] = (255, 0, 0)
UPRIGHT[:24, 32:] = (0, 255, 0)
UPRIGHT[24:, :32] = (0, 0, 255)


def read_all(path: Path, **options):
    with open_clip(path, **options) as reader:
        frames = list(reader)
        return frames, reader.clip()


@pytest.mark.parametrize("flip", [False, True])
@pytest.mark.parametrize("rotation_deg", [0, 90, 180, 270])
def test_turns_the_picture_upright(write_film, rotation_deg, flip):
    shown = UPRIGHT
    stored = shown[:, ::-1] if flip else shown
    stored = np.ascontiguousarray(np.rot90(stored, -rotation_deg // 90))
    path = write_film(pictures=[stored] * 3, rotation_deg=rotation_deg, flip=flip)
    frames, clip = read_all(path)
    assert np.abs(frames[0].rgb.astype(int) - shown)[4:20, 4:28].max() < 40
    assert np.abs(frames[0].rgb.astype(int) - shown).mean() < 12
    assert (clip.width_px, clip.height_px) == (64, 48)
    assert clip.mirrored is flip
    assert clip.rotation_deg == -rotation_deg % 360


def test_keeps_the_stamps_of_film_with_a_varying_frame_rate(write_film):
    rng = np.random.default_rng(5)
    times_s = np.cumsum(rng.choice([1 / 60, 1 / 30, 0.1, 0.25], 40)) + 0.5
    _, clip = read_all(write_film(times_s=times_s, n_frames=40))
    assert clip.time_s[0] == 0
    np.testing.assert_allclose(clip.time_s, times_s - times_s[0], atol=1e-4)


@pytest.mark.parametrize("suffix", ["mov", "mkv", "webm"])
def test_frames_come_in_the_order_they_are_shown(write_film, number_of, suffix):
    coding = {"codec": "libvpx-vp9"} if suffix == "webm" else {"options": {"bf": "3"}}
    path = write_film(f"film.{suffix}", n_frames=30, **coding)
    frames, _ = read_all(path)
    assert [number_of(f.rgb) for f in frames] == [f.index for f in frames] == list(range(30))
    np.testing.assert_allclose(np.diff([f.time_s for f in frames]), 1 / 30, atol=2e-3)


def test_slow_motion_is_put_back_to_the_rate_it_was_recorded_at(write_film):
    frames, clip = read_all(write_film(n_frames=10), true_fps=240)
    np.testing.assert_allclose(clip.time_s, np.arange(10) / 240, atol=1e-5)
    assert [f.time_s for f in frames] == clip.time_s.tolist()


@pytest.mark.parametrize("true_fps", [0, -30, float("nan"), float("inf")])
def test_a_rate_that_is_none_is_refused(write_film, true_fps):
    with pytest.raises(SettingsError, match="true_fps"), open_clip(write_film(), true_fps=true_fps):
        pass


def test_ten_bit_film_is_read(write_film, number_of):
    path = write_film(
        codec="libx265", pix_fmt="yuv420p10le", options={"x265-params": "log-level=0"}
    )
    frames, _ = read_all(path)
    assert frames[3].rgb.dtype == np.uint8
    assert number_of(frames[11].rgb) == pytest.approx(11, abs=1)


@pytest.mark.slow
@pytest.mark.parametrize("size_px", [(2160, 3840), (240, 135 // 2 * 2)])
def test_large_and_small_pictures(write_film, size_px):
    path = write_film(
        pictures=[np.full((size_px[0], size_px[1], 3), 90, np.uint8)], rotation_deg=90
    )
    frames, clip = read_all(path)
    assert frames[0].rgb.shape == (size_px[1], size_px[0], 3)
    assert frames[0].rgb.flags.c_contiguous
    assert (clip.n_frames, clip.n_undecoded) == (1, 0)
    assert np.isnan(clip.frame_rate_hz)


def test_names_with_spaces_letters_of_any_script_and_colons(write_film):
    _, clip = read_all(write_film("wurf übung 2: 球.mp4"))
    assert clip.n_frames == 12


def test_the_digest_is_that_of_the_bytes(write_film):
    path = write_film()
    assert read_all(path)[1].digest == hashlib.sha256(path.read_bytes()).hexdigest()


def test_a_known_digest_is_not_computed_again(write_film):
    assert read_all(write_film(), digest="known")[1].digest == "known"


def test_a_reader_announces_frames_and_length(write_film):
    with open_clip(write_film()) as reader:
        assert reader.n_frames_expected == 12
        assert reader.duration_s == pytest.approx(0.4, abs=0.05)


@pytest.mark.parametrize(
    ("content", "error"),
    [
        (b"", EmptyClip),
        (b"a note and not a film\n" * 50, UnreadableClip),
        (b"#EXTM3U\n#EXTINF:10,\nhttp://127.0.0.1/film.ts\n", UnreadableClip),
        (bytes(range(256)) * 40, UnreadableClip),
    ],
)
def test_what_is_no_film_is_refused_by_name(tmp_path, content, error):
    path = tmp_path / "not a film.mp4"
    path.write_bytes(content)
    with pytest.raises(error, match=r"not a film\.mp4") as caught, open_clip(path):
        pass
    assert str(tmp_path) not in str(caught.value)
    assert caught.value.what_to_do


def test_a_missing_file_is_refused_by_name(tmp_path):
    with pytest.raises(UnreadableClip, match=r"gone\.mp4"), open_clip(tmp_path / "gone.mp4"):
        pass


def test_sound_alone_is_refused(tmp_path):
    path = tmp_path / "voice.m4a"
    with av.open(str(path), "w", format="mp4") as film:
        stream = film.add_stream("aac", rate=44_100)
        sound = av.AudioFrame.from_ndarray(np.zeros((1, 1024), np.float32), "fltp", "mono")
        sound.sample_rate = 44_100
        film.mux(stream.encode(sound))
        film.mux(stream.encode())
    with pytest.raises(NoPictureStream, match=r"voice\.m4a"), open_clip(path):
        pass


def test_a_film_cut_before_its_index_is_refused(write_film):
    path = write_film(n_frames=30)
    path.write_bytes(path.read_bytes()[:900])
    with pytest.raises(UnreadableClip, match=r"film\.mp4"), open_clip(path):
        pass


def noisy_pictures(n_frames: int) -> list[np.ndarray]:
    rng = np.random.default_rng(1)
    return [rng.integers(0, 255, (48, 64, 3), np.uint8) for _ in range(n_frames)]


def test_a_film_cut_after_its_index_is_read_as_far_as_it_goes(write_film):
    path = write_film(pictures=noisy_pictures(60), container_options={"movflags": "faststart"})
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    frames, clip = read_all(path)
    assert 10 < len(frames) < 50
    assert clip.n_undecoded >= 60 - len(frames) - 2
    assert set(read_frames(clip, [5])) == {5}


def test_a_film_with_spoilt_bytes_is_read_around_them(write_film):
    path = write_film(pictures=noisy_pictures(60), options={"g": "10"})
    content = bytearray(path.read_bytes())
    middle = len(content) // 2
    content[middle : middle + 6000] = bytes(6000)
    path.write_bytes(bytes(content))
    frames, clip = read_all(path)
    assert 0 < clip.n_undecoded < 30
    assert len(frames) >= 30
    assert np.all(np.diff(clip.time_s) > 0)
    assert frames[-1].time_s == pytest.approx(59 / 30, abs=0.01)


def test_single_frames_are_the_ones_that_were_measured(write_film, number_of):
    rng = np.random.default_rng(2)
    times_s = 0.5 + np.cumsum(rng.choice([1 / 60, 1 / 30, 0.2], 60))
    path = write_film(n_frames=60, times_s=times_s, options={"g": "12", "bf": "3"}, rotation_deg=90)
    _, clip = read_all(path)
    found = read_frames(clip, [59, 0, 13, 14, 30, 30, 60, -1])
    assert {index: number_of(rgb) for index, rgb in found.items()} == {
        i: i for i in (0, 13, 14, 30, 59)
    }
    assert found[0].shape == (64, 48, 3)


def test_no_frames_asked_for(write_film):
    _, clip = read_all(write_film())
    assert read_frames(clip, []) == {}


def test_facts_are_not_told_before_all_frames_are_read(write_film):
    with open_clip(write_film()) as reader, pytest.raises(RuntimeError):
        reader.clip()
