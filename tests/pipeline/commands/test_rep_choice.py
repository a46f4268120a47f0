"""Which rep is meant by a number, by latest and by best."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.commands.compare import choose_rep, split_clip_and_rep
from pipeline.core.errors import SettingsError
from pipeline.core.results import TargetRange
from tests.fixtures.filmed import judged, rep_at

RANGE = TargetRange(
    key="step_back_m", unit="m", low=0.4, high=1.0, words="0.4 to 1 m", set_by="x", why="y"
)


def reps(*verdicts):
    time_s = np.arange(300) / 30
    return [
        replace(
            rep_at(i, 1.0 * i, 1.0 * i + 0.5, 1.0 * i + 0.2, time_s),
            verdicts=tuple(judged("step_back_m", *each, RANGE) for each in own),
        )
        for i, own in enumerate(verdicts, 1)
    ]


IN, SURE = ("in range", 0.96), ("in range", 0.999)
CLOSE, OUT, UNKNOWN = ("too close to call", 0.6), ("out of range", 0.01), ("not measured", None)


def chosen(results, wanted):
    choice = choose_rep(results, wanted, clip_name="a.mp4")
    return choice.result.rep.index, choice.n_in_range, choice.n_judged


def test_the_best_has_most_in_range_then_the_surest_then_is_the_latest():
    assert chosen(reps([IN, IN, OUT], [SURE, CLOSE, CLOSE], [UNKNOWN] * 3), "best") == (1, 2, 3)
    assert chosen(reps([IN, CLOSE], [SURE, CLOSE], [OUT]), "best") == (2, 1, 2)
    assert chosen(reps([IN, UNKNOWN], [IN, UNKNOWN]), "best") == (2, 1, 1)


def test_latest_and_numbers():
    assert chosen(reps([IN], [OUT]), "latest") == (2, 0, 1)
    assert chosen(reps([IN], [OUT]), "1") == (1, 1, 1)


@pytest.mark.parametrize(
    ("results", "wanted", "said"),
    [
        ([], "1", "a.mp4: no rep was found"),
        (reps([IN]), "2", "no rep '2'; it has rep 1"),
        (reps([IN], [IN], [IN]), "7", "it has reps 1 to 3"),
        (reps([OUT], [CLOSE]), "best", "no rep can be called the best"),
    ],
)
def test_what_cannot_be_chosen_is_said(results, wanted, said):
    with pytest.raises(SettingsError, match=said):
        choose_rep(results, wanted, clip_name="a.mp4")


def test_clip_and_rep_are_told_apart():
    assert split_clip_and_rep("film:1.mp4:02") == ("film:1.mp4", "2")
    assert split_clip_and_rep("film.mp4:latest") == ("film.mp4", "latest")
    for text in ("film.mp4", "C:/film.mp4", "film.mp4:", "film.mp4:first"):
        with pytest.raises(SettingsError, match="which rep"):
            split_clip_and_rep(text)
