"""What is kept comes back as it was; what is damaged is as good as not there."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest

from pipeline.core.errors import OutputError
from pipeline.core.types import Clip, Tracks
from pipeline.people.cache import TrackCache, cache_key


@pytest.fixture
def clip() -> Clip:
    return Clip(
        path=Path("film.mp4"),
        digest="ab" * 32,
        width_px=640,
        height_px=360,
        rotation_deg=90,
        mirrored=True,
        time_s=np.array([0.0, 0.033, 0.071]),
        n_undecoded=2,
    )


@pytest.fixture
def tracks() -> Tracks:
    rng = np.random.default_rng(0)
    image_px = rng.normal(size=(2, 3, 33, 2)).astype(np.float32)
    image_px[1, 1] = np.nan
    return Tracks(
        image_px=image_px,
        world_m=rng.normal(size=(2, 3, 33, 3)).astype(np.float32),
        visibility=rng.random((2, 3, 33), np.float32),
        overlapped=np.array([[True, False, False], [False, False, True]]),
        camera_shift_px=rng.normal(size=(3, 4, 2)).astype(np.float32),
        camera_misfit_px=rng.normal(size=3).astype(np.float32),
    )


def test_tracks_and_facts_come_back_as_they_were(tmp_path, clip, tracks):
    cache = TrackCache(tmp_path / "new" / "folder")
    cache.save("key", clip, tracks)
    loaded = cache.load("key", Path("moved.mp4"))
    assert loaded is not None
    facts, again = loaded
    assert facts.path == Path("moved.mp4")
    assert (facts.digest, facts.rotation_deg, facts.mirrored) == (clip.digest, 90, True)
    assert facts.n_undecoded == 2
    np.testing.assert_array_equal(facts.time_s, clip.time_s)
    for name in (field.name for field in fields(Tracks)):
        np.testing.assert_array_equal(getattr(again, name), getattr(tracks, name))


def test_nothing_is_left_beside_the_file(tmp_path, clip, tracks):
    TrackCache(tmp_path).save("key", clip, tracks)
    assert [path.name for path in tmp_path.iterdir()] == ["key.tracks.npz"]


def test_what_was_never_kept_is_not_there(tmp_path):
    assert TrackCache(tmp_path).load("key", Path("film.mp4")) is None
    assert TrackCache(tmp_path).load_frame("ab" * 32, 3) is None


@pytest.mark.parametrize("share", [0.0, 0.3, 0.9])
def test_a_damaged_file_is_ignored_and_written_anew(tmp_path, clip, tracks, share):
    cache = TrackCache(tmp_path)
    cache.save("key", clip, tracks)
    path = tmp_path / "key.tracks.npz"
    path.write_bytes(path.read_bytes()[: int(share * path.stat().st_size)])
    assert cache.load("key", clip.path) is None
    cache.save("key", clip, tracks)
    assert cache.load("key", clip.path) is not None


def test_a_file_of_spoilt_bytes_is_ignored(tmp_path, clip, tracks):
    cache = TrackCache(tmp_path)
    cache.save("key", clip, tracks)
    path = tmp_path / "key.tracks.npz"
    content = bytearray(path.read_bytes())
    content[400:900] = bytes(500)
    path.write_bytes(bytes(content))
    assert cache.load("key", clip.path) is None


def test_the_key_tells_apart_what_changes_the_tracks():
    settings = {"true_fps": None, "n_people_max": 2, "athlete_at": (1.0, 2.0)}
    key = cache_key("a", "b", settings)
    assert key == cache_key("a", "b", dict(reversed(settings.items())))
    others = [
        cache_key("x", "b", settings),
        cache_key("a", "x", settings),
        cache_key("a", "b", settings | {"true_fps": 240.0}),
        cache_key("a", "b", settings | {"athlete_at": (1.0, 3.0)}),
    ]
    assert len({key, *others}) == 5


def test_pictures_come_back_nearly_as_they_were(tmp_path):
    rows, columns = np.mgrid[:40, :60]
    rgb = np.stack([rows * 5, columns * 4, 255 - rows * 5], axis=-1).astype(np.uint8)
    cache = TrackCache(tmp_path)
    cache.save_frame("ab" * 32, 7, rgb)
    again = cache.load_frame("ab" * 32, 7)
    assert again is not None
    assert np.abs(again.astype(int) - rgb).mean() < 3
    assert cache.load_frame("cd" * 32, 7) is None
    (tmp_path / f"{'ab' * 16}.frame000007.jpg").write_bytes(b"spoilt")
    assert cache.load_frame("ab" * 32, 7) is None


def test_a_folder_that_cannot_be_is_said(tmp_path, clip, tracks):
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(OutputError, match="kept"):
        TrackCache(tmp_path / "taken").save("key", clip, tracks)


def test_arrays_come_back_as_they_were_and_damage_is_ignored(tmp_path):
    cache = TrackCache(tmp_path)
    assert cache.load_arrays("key") is None
    cache.save_arrays("key", {"a": np.arange(5), "b": np.eye(2)}, clip_digest="f" * 64)
    kept = cache.load_arrays("key")
    assert kept is not None
    assert kept["a"].tolist() == [0, 1, 2, 3, 4]
    assert kept["b"].shape == (2, 2)
    (path,) = tmp_path.iterdir()
    path.write_bytes(path.read_bytes()[:40])
    assert cache.load_arrays("key") is None
