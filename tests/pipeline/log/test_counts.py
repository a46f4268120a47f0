"""What a rep counts as follows from the facts of its move, never from how a name ends."""

import pytest

from pipeline.core.types import Rep
from pipeline.log.counts import counts_of


def counted(move, like=None):
    rep = Rep(
        index=1, start_s=0.0, stop_s=1.0, start_frame=0, stop_frame=30, move=move,
        stick_hand="left",
    )  # fmt: skip
    return {name for name, n in counts_of(rep, like=like).items() if n}


@pytest.mark.parametrize(
    ("move", "counts"),
    [
        ("step_down_shot", {"throws", "shots"}),
        ("pivot_throwback_pass", {"throws"}),
        ("roll_dodge", {"dodges"}),
        ("angle_cut_dodge", {"dodges", "cuts"}),
        ("unknown", set()),
    ],
)
def test_a_rep_counts_as_its_move(move, counts):
    assert counted(move) == counts


def test_a_taught_drill_counts_as_what_it_is_like_whatever_its_name():
    assert counted("fake_shot") == set()
    assert counted("fake_shot", like="split_dodge") == {"dodges", "cuts"}
