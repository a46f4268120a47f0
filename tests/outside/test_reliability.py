"""Reliability against published worked examples.

Shrout & Fleiss 1979, Psychological Bulletin 86:420: ratings of six targets by four judges
and the six correlations printed there to two decimals: read in the text (the same data and results
are the self-check of the psych package for R). Further decimals are computed from the printed data.
Weir 2005, J Strength Cond Res 19:231: formulas of the typical error and the smallest real change
(taken from texts that quote them), with results computed from the same data.
"""

import math

import numpy as np
import pytest

from pipeline.measures.repeatability import reliability, smallest_real_change, typical_error

RATINGS = [
    [9, 2, 5, 8],
    [6, 1, 3, 2],
    [8, 4, 6, 8],
    [7, 1, 2, 6],
    [10, 5, 6, 9],
    [6, 2, 4, 7],
]


@pytest.mark.parametrize(
    ("form", "printed", "computed"),
    [
        ("1,1", 0.17, 0.1657),
        ("2,1", 0.29, 0.2898),
        ("3,1", 0.71, 0.7148),
        ("1,k", 0.44, 0.4428),
        ("2,k", 0.62, 0.6201),
        ("3,k", 0.91, 0.9093),
    ],
)
def test_six_correlations_of_shrout_and_fleiss(form, printed, computed):
    icc = reliability(RATINGS).icc[form]
    assert round(icc, 2) == printed
    assert icc == pytest.approx(computed, abs=5e-5)


def test_mean_squares_of_shrout_and_fleiss():
    squares = reliability(RATINGS).squares
    assert squares.between == pytest.approx(11.242, abs=5e-4)
    assert squares.within == pytest.approx(6.264, abs=5e-4)
    assert squares.occasions == pytest.approx(32.486, abs=5e-4)
    assert squares.error == pytest.approx(1.0194, abs=5e-5)


def test_typical_error_and_smallest_real_change_by_weir():
    figures = reliability(RATINGS)
    assert figures.sem_consistency == pytest.approx(1.0097, abs=5e-5)
    assert figures.sem_agreement == pytest.approx(2.5028, abs=5e-5)
    assert figures.smallest_real_change == pytest.approx(2.7987, abs=5e-5)
    assert smallest_real_change(1.0) == pytest.approx(1.96 * math.sqrt(2.0))


def test_typical_error_from_spread_and_correlation_by_weir():
    # SEM = SD sqrt(1 - ICC); of a spread of 2.0 and a correlation of 0.91: 0.6.
    assert typical_error(2.0, 0.91) == pytest.approx(0.6)
    # With the spread of the columns, ICC(3,1) leads back to the root of the residual mean square,
    # as far as the columns are spread alike.
    ratings = np.array(RATINGS, float)
    spread = math.sqrt(ratings.var(axis=0, ddof=1).mean())
    figures = reliability(RATINGS)
    assert typical_error(spread, figures.icc["3,1"]) == pytest.approx(
        figures.sem_consistency, rel=1e-9
    )
