"""Fixtures shared by all tests: small films and pictures whose content is known."""

from __future__ import annotations

import gc
import os
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import hypothesis
import numpy as np
import pytest
from sqlalchemy import Connection, create_engine, inspect

from pipeline.core.files import VARIABLE
from pipeline.log import migrate
from pipeline.people.pose_model import PoseModel
from pipeline.settings.locale import LANGUAGE_VARIABLE, UNITS_VARIABLE
from tests.fixtures.chromium import running_chromium
from tests.fixtures.postgres import postgres_server

ROOT = Path(__file__).resolve().parent.parent

WriteFilm = Callable[..., Path]

# No test may fail because the machine is busy.
hypothesis.settings.register_profile("unhurried", deadline=None)
hypothesis.settings.load_profile("unhurried")

MARK_OF_FIXTURE = {
    "chromium": "browser",
    "postgresql": "database",
    "renderer": "renderer",
    "wheel": "slow",
}
"""A test that uses one of these fixtures, even through another one, gets the mark."""


def pytest_configure() -> None:
    """Collect no garbage while modules are imported: they stay until the end."""
    gc.disable()


def pytest_collection_finish() -> None:
    """Exclude all objects that exist now from later garbage collection."""
    gc.enable()
    gc.freeze()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark the tests that need a program besides Python."""
    for item in items:
        for fixture in MARK_OF_FIXTURE.keys() & set(getattr(item, "fixturenames", ())):
            item.add_marker(MARK_OF_FIXTURE[fixture])


@pytest.fixture(autouse=True)
def _pose_model_in_slow_tests_alone(
    request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Fail a test that runs the pose model without the mark for it."""
    if request.node.get_closest_marker("slow") is None:

        def refuse(*_: object) -> None:
            pytest.fail("this test runs the pose model: mark it slow")

        monkeypatch.setattr(PoseModel, "_landmarker", refuse)


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    """Start the machine's own browser."""
    with running_chromium() as browser:
        yield browser


@pytest.fixture(scope="module")
def postgresql() -> Iterator[str]:
    """Start a PostgreSQL server and return the address of its database."""
    pytest.importorskip("psycopg")
    with postgres_server() as address:
        yield address


@pytest.fixture(scope="session")
def renderer() -> None:
    """Skip the test where the renderer of the sample clips is not installed."""
    pytest.importorskip("anny", reason="the renderer is not installed")


@pytest.fixture(scope="session", autouse=True)
def _empty_data_folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Keep what a coach taught the program on this machine out of the tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(VARIABLE, str(tmp_path_factory.mktemp("data") / "none"))
        patch.delenv("CROSSEMETRY_DATABASE", raising=False)
        yield


@pytest.fixture(scope="session", autouse=True)
def _new_logs_in_one_step() -> Iterator[None]:
    """Create each new SQLite log from what the migrations made once: a fifth of a second less."""
    statements: list[str] = []

    steps = migrate.migrate

    def create(connection: Connection, to: str = "head") -> None:
        empty = connection.dialect.name == "sqlite" and not inspect(connection).get_table_names()
        if not empty or to != "head":
            steps(connection, to)
            return
        if not statements:
            statements.extend(_statements_of(steps))
        for statement in statements:
            connection.exec_driver_sql(statement)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(migrate, "migrate", create)
        yield


def _statements_of(steps: Callable[[Connection], None]) -> list[str]:
    """Run every migration in memory and return the statements that make the same database."""
    engine = create_engine("sqlite://")
    with engine.begin() as connection:
        steps(connection)
        dump = list(connection.connection.driver_connection.iterdump())
    engine.dispose()
    return [line for line in dump if line not in {"BEGIN TRANSACTION;", "COMMIT;"}]


@pytest.fixture(scope="session", autouse=True)
def _english_and_metric() -> Iterator[None]:
    """Read in English and metres, whatever the person reads who runs the tests."""
    with pytest.MonkeyPatch.context() as patch:
        for variable in (LANGUAGE_VARIABLE, UNITS_VARIABLE):
            patch.delenv(variable, raising=False)
        yield


@pytest.fixture(scope="session")
def kept_landmarks(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder in which landmarks are kept, so that each sample clip is watched once."""
    folder = tmp_path_factory.getbasetemp()
    if os.environ.get("PYTEST_XDIST_WORKER"):  # the folder of this run, above those of its workers
        folder = folder.parent
    return folder / "landmarks"


@pytest.fixture
def write_film(tmp_path: Path) -> WriteFilm:
    """Return a function that writes a small film; frames default to numbered grey levels."""

    def write(
        name: str = "film.mp4",
        pictures: Sequence[np.ndarray] | None = None,
        *,
        n_frames: int = 12,
        size_px: tuple[int, int] = (64, 48),
        times_s: Sequence[float] | None = None,
        rotation_deg: int = 0,
        flip: bool = False,
        codec: str = "libx264",
        pix_fmt: str = "yuv420p",
        options: dict[str, str] | None = None,
        container_options: dict[str, str] | None = None,
    ) -> Path:
        path = tmp_path / name
        if pictures is None:
            pictures = [grey_picture(i, size_px) for i in range(n_frames)]
        stamps = times_s if times_s is not None else [i / 30 for i in range(len(pictures))]
        with av.open(str(path), "w", options=container_options or {}) as film:
            stream = film.add_stream(codec, rate=30, options=options or {})
            stream.height, stream.width = pictures[0].shape[:2]
            stream.pix_fmt = pix_fmt
            stream.time_base = Fraction(1, 90_000)
            stream.codec_context.time_base = Fraction(1, 90_000)
            if rotation_deg or flip:
                stream.set_display_rotation(rotation_deg, hflip=flip)
            for picture, stamp_s in zip(pictures, stamps, strict=True):
                frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
                frame.pts, frame.time_base = round(stamp_s * 90_000), Fraction(1, 90_000)
                film.mux(stream.encode(frame))
            film.mux(stream.encode())
        return path

    return write


def grey_picture(number: int, size_px: tuple[int, int]) -> np.ndarray:
    """Return a flat picture whose grey level tells its number (see `number_of`)."""
    width, height = size_px
    return np.full((height, width, 3), 8 + number * 4, np.uint8)


@pytest.fixture
def number_of() -> Callable[[np.ndarray], int]:
    """Return a function that reads the number back from a picture of `grey_picture`."""
    return lambda rgb: round((float(rgb.mean()) - 8) / 4)


@pytest.fixture(scope="session")
def astronaut() -> np.ndarray:
    """Return a portrait of a real person (NASA, public domain): head, shoulders, no legs."""
    from skimage.data import astronaut

    return np.ascontiguousarray(astronaut())


@pytest.fixture(scope="session")
def sample_clips() -> list[Path]:
    """Return the clips that come along, by name."""
    return sorted((ROOT / "sample_clips").glob("*.mp4"))
