"""The score of rep finding against the published definition and a worked case.

Lea et al. (2017), "Temporal convolutional networks for action segmentation and detection", CVPR:
F1@k, in percent, with the background left out. The worked case was made by hand after the rule of
the paper's own code (best overlap of the same label, each true segment once); it is not in the
paper.
"""

import pytest

from tests.bench.segment_scores import (
    Segment,
    edit_score,
    expected_calibration_error,
    segmental_f1,
)

TRUTHS = [Segment(0, 100, "A"), Segment(100, 200, "B"), Segment(200, 300, "A")]
FOUND = [
    Segment(0, 30, "A"),
    Segment(30, 60, "A"),
    Segment(100, 112, "B"),
    Segment(120, 200, "B"),
    Segment(240, 340, "A"),
]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("overlap", "percent", "counts"),
    [(0.10, 75, (3, 2, 0)), (0.25, 75, (3, 2, 0)), (0.50, 25, (1, 4, 2))],
)
def test_segmental_f1_of_the_worked_case(overlap, percent, counts):
    from sklearn.metrics import f1_score

    result = segmental_f1(TRUTHS, FOUND, overlap)
    assert (result.true_positive, result.false_positive, result.false_negative) == counts
    assert 100 * result.score == pytest.approx(percent)
    # The same counts through scikit-learn's F1 over one row per segment.
    true, found = [], []
    for n, t, f in zip(counts, (1, 0, 1), (1, 1, 0), strict=True):
        true += [t] * n
        found += [f] * n
    assert result.score == pytest.approx(f1_score(true, found))


def test_a_rep_that_is_found_twice_counts_once():
    twice = [Segment(0, 98, "A"), Segment(0, 100, "A")]
    assert segmental_f1(TRUTHS[:1], twice, 0.5).false_positive == 1


def test_edit_score_is_one_less_the_share_of_labels_to_change():
    # A A B B A against A B A: two labels too many of five.
    assert edit_score(TRUTHS, FOUND) == pytest.approx(0.6)
    assert edit_score([], []) == 1.0


def test_calibration_error_is_the_mean_gap_of_stated_and_true_shares():
    # Ten times 0.95 with nine right, ten times 0.55 with six right: gaps of 0.05 each.
    stated = [0.95] * 10 + [0.55] * 10
    right = [True] * 9 + [False] + [True] * 6 + [False] * 4
    assert expected_calibration_error(stated, right) == pytest.approx(0.05)
