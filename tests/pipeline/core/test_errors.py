"""Errors travel between processes as what they are, with texts that can be translated."""

import pickle

import pytest

from pipeline.core.errors import CrossemetryError, SettingsError, UnreadableClip
from pipeline.core.messages import shipped


@pytest.mark.parametrize("kind", [CrossemetryError, SettingsError, UnreadableClip])
def test_an_error_is_the_same_in_another_process(kind):
    error = kind.of("worker_lost", clip="a.mp4", n=2)
    back = pickle.loads(pickle.dumps(error))
    assert (type(back), str(back), back.exit_code) == (kind, str(error), kind.exit_code)
    spanish = shipped("es")
    assert back.translate(spanish) == error.translate(spanish) != str(error)
