"""Kappa and its standard error against published worked examples.

Fleiss, Cohen & Everitt 1969 (Psychological Bulletin 72:323-327) give 200 subjects in three classes
by two judges; the counts are those that the R package psych shows with its `cohen.kappa`, the kappa
of 0.429 and the variance of 0.002885 are from memory. Cohen 1968 (Psychological Bulletin
70:213-220) reports an unweighted kappa of 0.492 for the second table, as that package says too.
"""

import math

import numpy as np
import pytest

from pipeline.web.review.agreement import kappa_standard_error

FLEISS = np.array([[106, 10, 4], [22, 28, 10], [2, 12, 6]])
COHEN = np.array([[88, 14, 18], [10, 40, 10], [2, 6, 12]])


def kappa_of(table):
    from sklearn.metrics import cohen_kappa_score

    pairs = [(i, j) for i, j in np.ndindex(table.shape) for _ in range(table[i, j])]
    return cohen_kappa_score([i for i, _ in pairs], [j for _, j in pairs])


@pytest.mark.slow
def test_kappa_of_the_published_tables():
    assert kappa_of(FLEISS) == pytest.approx(0.429, abs=5e-4)
    assert kappa_of(COHEN) == pytest.approx(0.492, abs=5e-4)


def test_its_standard_error():
    assert kappa_standard_error(FLEISS) ** 2 == pytest.approx(0.002885, abs=5e-6)


def test_the_standard_error_is_what_samples_from_the_table_show():
    rng = np.random.default_rng(0)
    draws = rng.multinomial(FLEISS.sum(), FLEISS.ravel() / FLEISS.sum(), size=4000)
    share = draws.reshape(-1, 3, 3) / FLEISS.sum()
    same = np.trace(share, axis1=1, axis2=2)
    chance = (share.sum(axis=2) * share.sum(axis=1)).sum(axis=1)
    spread = np.std((same - chance) / (1 - chance))
    assert kappa_standard_error(FLEISS) == pytest.approx(spread, rel=0.05)
    assert math.isfinite(kappa_standard_error(np.eye(2) * 10))
