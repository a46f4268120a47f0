"""Words and probabilities of verdicts against the worked examples of JCGM 106:2012 and its kin.

Each goes through `judge_rep`, as the results of an analysis do. The inputs were written down from
memory of the documents, or are those of a published script that cites them; the printed results
close with them, so the arithmetic is checked. The primary texts were not at hand.
"""

import math
from statistics import NormalDist

import numpy as np
import pytest

from pipeline.core.results import Measurement, TargetRange
from pipeline.targets.verdicts import judge_rep

EXAMPLES = [
    # JCGM 106:2012: clause, quantity, unit, value, u, low, high, probability inside, as printed,
    # and the word that follows from it at the usual levels of 0.95 and 0.05
    ("7.3.2", "burst pressure", "kPa", 509.7, 8.6, 490.0, None, 0.9890, 0.99, "in range"),
    ("7.3.3", "breakdown voltage", "V", -5.47, 0.05, None, -5.40, 0.9192, 0.92,
     "too close to call"),
    # The limits are those of SAE J300 for grade 40.
    ("7.4", "kinematic viscosity", "mm2/s", 13.6, 1.8, 12.5, 16.3, 0.6626, 0.66,
     "too close to call"),
]  # fmt: skip


def verdict(value, u, low, high, *, quantity="resistance", unit="ohm", draws=None, **levels):
    measured = Measurement(key=quantity, unit=unit, value=value, u=u, draws=draws)
    target = TargetRange(
        key=quantity, unit=unit, low=low, high=high, words="", set_by="JCGM 106:2012", why=""
    )
    (found,) = judge_rep({quantity: measured}, {quantity: target}, **levels)
    return found


@pytest.mark.parametrize(
    ("clause", "quantity", "unit", "value", "u", "low", "high", "inside", "printed", "word"),
    EXAMPLES,
)
def test_conformance_probability_as_worked_and_the_word_that_follows(
    clause, quantity, unit, value, u, low, high, inside, printed, word
):
    found = verdict(value, u, low, high, quantity=quantity, unit=unit)
    assert found.probability_inside == pytest.approx(inside, abs=2e-4)
    assert round(found.probability_inside, 2) == printed
    assert (found.word, found.side) == (word, None)


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example[1])
def test_draws_of_the_same_distribution_give_the_same_word(example):
    _, quantity, unit, value, u, low, high, inside, _, word = example
    # Evenly spaced probabilities: a sample of the distribution without chance in it.
    shares = (np.arange(2000) + 0.5) / 2000
    draws = np.array([NormalDist(value, u).inv_cdf(share) for share in shares])
    found = verdict(value, u, low, high, quantity=quantity, unit=unit, draws=draws)
    assert found.probability_inside == pytest.approx(inside, abs=1e-3)
    assert found.word == word


@pytest.mark.parametrize(
    ("beyond_u", "inside", "word"),
    [
        # JCGM 106:2012, 8.3, and ISO 14253-1: a guard band of U = 2 u leaves Phi(2) at its edge.
        (2.0, 0.97725, "in range"),
        # The same guarded rejection on the other side of the limit.
        (-2.0, 0.02275, "out of range"),
        # ILAC-G8:09/2019, 4.2: at the limit itself a simple acceptance shares the risk evenly.
        (0.0, 0.5, "too close to call"),
        # ILAC-G8:09/2019, 4: w = r U with r = 1.645 / 2 leaves a one-sided risk of 5 %.
        (1.6449, 0.95, "in range"),
        (1.64, 0.9495, "too close to call"),
        (-1.6449, 0.05, "out of range"),
        (-1.64, 0.0505, "too close to call"),
    ],
)
@pytest.mark.parametrize("side", ["low", "high"])
def test_guard_bands_are_what_the_levels_make_of_them(beyond_u, inside, word, side):
    u, limit = 0.04, 1500.0
    value = limit + (1 if side == "low" else -1) * beyond_u * u
    low, high = (limit, None) if side == "low" else (None, limit)
    found = verdict(value, u, low, high)
    assert found.probability_inside == pytest.approx(inside, abs=5e-5)
    assert (found.word, found.side) == (word, side if word == "out of range" else None)


@pytest.mark.parametrize(
    ("acceptance_from", "consumer", "producer"),
    [
        # JCGM 106:2012, 9.5, by an Octave script that cites it: accepted in [1499.82, 1500.18],
        # which is half of u within the tolerance. The document prints about 1 % and 7 %.
        (0.5, 0.0099, 0.0690),
        # The same without a guard band; worked here with the same integrals.
        (0.0, 0.0189, 0.0372),
    ],
)
def test_global_risks_of_accepting_what_is_said_to_be_in_range(acceptance_from, consumer, producer):
    prior, u, low, high = NormalDist(1500.0, 0.12), 0.04, 1499.8, 1500.2
    # A level at which exactly that acceptance interval is "in range".
    level = NormalDist().cdf(acceptance_from) - 1e-9
    spread = math.hypot(prior.stdev, u)
    step = 0.0005
    nonconforming_accepted = conforming_rejected = 0.0
    for value in np.arange(1500.0 - 6 * spread, 1500.0 + 6 * spread, step):
        accepted = verdict(value, u, low, high, inside_level=level).word == "in range"
        # Given the value as measured, the true one is normal as well (JCGM 106:2012, 6 and 9).
        weight = prior.variance / (prior.variance + u * u)
        true = NormalDist(1500.0 + weight * (value - 1500.0), math.sqrt(weight) * u)
        conforming = true.cdf(high) - true.cdf(low)
        density = NormalDist(1500.0, spread).pdf(value) * step
        nonconforming_accepted += accepted * (1.0 - conforming) * density
        conforming_rejected += (not accepted) * conforming * density
    assert nonconforming_accepted == pytest.approx(consumer, abs=1e-4)
    assert conforming_rejected == pytest.approx(producer, abs=1.5e-4)


def test_a_limit_that_was_measured_itself_adds_its_own_uncertainty():
    # A difference of two independent normal quantities: variances add (JCGM 100:2008, 5.1).
    measured = Measurement(key="cushion_m", unit="m", value=1.06, u=0.03)
    target = TargetRange(
        key="cushion_m", unit="m", low=1.0, high=None, words="", set_by="", why="", u_low=0.04
    )
    (found,) = judge_rep({"cushion_m": measured}, {"cushion_m": target})
    assert found.probability_inside == pytest.approx(NormalDist().cdf(0.06 / 0.05))
