"""What was found in a film once is kept, and the pose model need not run again."""

import pytest

import models
from pipeline.film_check import samples as film_samples
from pipeline.film_check.check import check_film
from pipeline.film_check.finding import CheckRequest
from tests.fixtures.looks import looks_at
from tests.fixtures.players import defender, dodger, frames_s

DODGE = CheckRequest(move="close_gap_dodge")


@pytest.fixture
def runs(monkeypatch):
    """Count how often the pose model is asked for."""
    time_s = frames_s(14.0)
    samples = looks_at(dodger(time_s).joints_m, defender(time_s).joints_m)
    runs = []

    def sample_film(path, model):
        runs.append(path)
        return samples

    monkeypatch.setattr(film_samples, "sample_film", sample_film)
    monkeypatch.setattr(film_samples, "PoseModel", lambda path: None)
    return runs


def test_a_film_is_looked_at_once_and_then_again_when_what_was_kept_is_damaged(tmp_path, runs):
    def read():
        found = film_samples.read_film_samples(
            tmp_path / "a.mp4",
            digest="0" * 64,
            model_path=models.bundle_path(),
            cache_dir=tmp_path / "cache",
        )
        return check_film(found, DODGE)

    first = read()
    assert read() == first
    assert len(runs) == 1
    (kept,) = (tmp_path / "cache").iterdir()
    kept.write_bytes(b"spoilt")
    assert read() == first
    assert len(runs) == 2
