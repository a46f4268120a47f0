"""From settings and consent to a run: one way for every command, and for the Python function."""

from datetime import date, datetime, timezone

import pytest
from click.testing import CliRunner

import pipeline
from pipeline.commands.main import main
from pipeline.core.errors import ConsentError, UnreadableClip
from pipeline.core.files import VARIABLE
from pipeline.log.athletes import add_athlete
from pipeline.log.location import log_path
from pipeline.log.log_request import LogRequest, allowed_settings
from pipeline.log.store import opened_log
from pipeline.settings.settings import GivenSettings

MINOR = "K. M."
COMMANDS = [
    ("analyse", "film.mp4"),
    ("analyse", "film.mp4", "--no-log"),
    ("overlay", "film.mp4"),
    ("export", "film.mp4", "--format", "csv"),
    ("compare", "film.mp4:1", "film.mp4:2"),
    ("teach", "lift", "film.mp4", "--reps", "0.8-2.6,4-5.8,6.9-8.7"),
]


@pytest.fixture
def side_file(tmp_path, monkeypatch):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "data"))
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "film.clip.toml"
    path.write_text(f'stature_m = 1.5\nathlete = "{MINOR}"\n')
    return path


@pytest.fixture
def minor(side_file):
    """A minor in the log for whom nobody has consented."""
    with opened_log() as store, store.writing() as connection:
        now = datetime(2026, 9, 1, tzinfo=timezone.utc)
        add_athlete(connection, MINOR, now, {"birth_year": date.today().year - 10})


@pytest.mark.usefixtures("minor")
@pytest.mark.parametrize("words", COMMANDS, ids=lambda words: words[0])
def test_no_command_analyses_a_minor_without_consent(words):
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 2
    assert "consent to film" in result.stderr


@pytest.mark.usefixtures("minor")
def test_the_python_function_analyses_no_minor_without_consent():
    with pytest.raises(ConsentError):
        pipeline.analyse("film.mp4")


def test_no_log_is_made_to_look_for_a_consent(side_file, tmp_path):
    settings = allowed_settings(tmp_path / "film.mp4", GivenSettings())
    assert (settings.athlete, settings.stature_m) == (MINOR, 1.5)
    with pytest.raises(UnreadableClip):
        pipeline.analyse("film.mp4")
    assert not log_path().exists()


def test_a_run_that_is_recorded_makes_a_log(side_file, tmp_path):
    allowed_settings(tmp_path / "film.mp4", GivenSettings(), LogRequest())
    assert log_path().exists()
