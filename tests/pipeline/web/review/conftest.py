"""A log with a few reps to look at, and the page over it."""

import pytest

from pipeline.core.files import VARIABLE
from pipeline.log.store import opened_log
from tests.fixtures.reviewed import context_of, logged, page_of


@pytest.fixture
def data(tmp_path, monkeypatch):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "data"))
    return tmp_path / "data"


@pytest.fixture
def log(data):
    with opened_log() as store:
        yield store


@pytest.fixture
def clip(log, write_film):
    return logged(log, write_film("film.mp4"))


@pytest.fixture
def context(log, clip):
    return context_of(log)


@pytest.fixture
def page(context):
    return page_of(context)
