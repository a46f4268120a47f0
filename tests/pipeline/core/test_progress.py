import dataclasses

import pytest

from pipeline.core.progress import Progress, ignore_progress


def test_progress_is_passed_on_whole_and_cannot_be_altered():
    progress = Progress(stage="following_players", done=3, total=None)
    assert ignore_progress(progress) is None
    with pytest.raises(dataclasses.FrozenInstanceError):
        progress.done = 4
