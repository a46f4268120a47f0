"""The program's way from draws to a value, u and interval, against published worked examples.

The examples are those of the guides to uncertainty of the Joint Committee for Guides in Metrology.
The primary texts were not at hand: their numbers were taken from secondary texts that quote them.
So no test rests on a quoted number alone: each is computed anew here, by a way that uses no
draws, and the quoted number is held against that as well.
"""

import math

import numpy as np
import pytest

from pipeline.measures.view import DrawnValue, measurement_from

N_DRAWS = 1_000_000


def measured(values):
    return measurement_from("quantity", "1", DrawnValue(values), 0)


def with_best_estimate(best, draws):
    return np.concatenate([[best], draws])


# JCGM 101:2008, 9.2: Y = X1 + X2 + X3 + X4. The interval is +-3.92 for four standard normals
# (9.2.2) and +-3.88 for four rectangular ones of unit standard deviation (9.2.3).
INTERVAL_OF_NORMALS = 3.92
INTERVAL_OF_RECTANGULARS = 3.88


def normal(generator):
    return generator.standard_normal(N_DRAWS)


def rectangular(generator):
    return generator.uniform(-math.sqrt(3), math.sqrt(3), N_DRAWS)


@pytest.mark.parametrize(
    ("draw", "half_width", "quoted"),
    [
        # Exact: the sum of four standard normals has u = 2 and the quantile 1.959964 of the normal.
        (normal, 2 * 1.959964, INTERVAL_OF_NORMALS),
        # Exact: the sum of four uniform numbers on (0, 1) lies above 4 - x with x^4 / 24, x < 1.
        (rectangular, 2 * math.sqrt(3) * (2 - 0.6**0.25), INTERVAL_OF_RECTANGULARS),
    ],
    ids=["normal", "rectangular"],
)
def test_additive_model(draw, half_width, quoted):
    generator = np.random.default_rng(1012008)
    result = measured(with_best_estimate(0.0, sum(draw(generator) for _ in range(4))))
    assert half_width == pytest.approx(quoted, abs=0.005)
    assert result.value == 0.0
    assert result.u == pytest.approx(2.0, rel=0.003)
    # The 2.5 % quantile of a million draws is known to 0.005 here.
    assert result.interval95 == pytest.approx((-half_width, half_width), abs=0.02)


# JCGM 100:2008, H.2: five simultaneous readings of voltage (V), current (A) and phase (rad).
READINGS = np.array(
    [
        [5.007, 19.663e-3, 1.0456],
        [4.994, 19.639e-3, 1.0438],
        [5.005, 19.640e-3, 1.0468],
        [4.990, 19.685e-3, 1.0428],
        [4.999, 19.678e-3, 1.0433],
    ]
)
QUOTED = {"R": (127.732, 0.071), "X": (219.847, 0.295), "Z": (254.260, 0.236)}
QUOTED_CORRELATION_OF_R_AND_X = -0.588


def of_circuit(voltage, current, phase):
    """Resistance, reactance and impedance in ohm."""
    impedance = voltage / current
    return {"R": impedance * np.cos(phase), "X": impedance * np.sin(phase), "Z": impedance}


MEAN = READINGS.mean(axis=0)
COVARIANCE_OF_MEAN = np.cov(READINGS.T, ddof=1) / len(READINGS)


def by_the_law_of_propagation():
    """Covariance (3, 3) of R, X, Z from their derivatives at the mean (5.2.2 of the guide)."""
    voltage, current, phase = MEAN
    best = of_circuit(*MEAN)
    jacobian = np.array(
        [
            [best["R"] / voltage, -best["R"] / current, -best["X"]],
            [best["X"] / voltage, -best["X"] / current, best["R"]],
            [best["Z"] / voltage, -best["Z"] / current, 0.0],
        ]
    )
    assert phase == pytest.approx(math.atan2(best["X"], best["R"]))
    return jacobian @ COVARIANCE_OF_MEAN @ jacobian.T


@pytest.fixture(scope="module")
def circuit():
    """Measurements by quantity, from draws of the three correlated means."""
    generator = np.random.default_rng(1002008)
    draws = generator.multivariate_normal(MEAN, COVARIANCE_OF_MEAN, N_DRAWS)
    best, values = of_circuit(*MEAN), of_circuit(*draws.T)
    return {name: measured(with_best_estimate(best[name], values[name])) for name in QUOTED}


@pytest.mark.parametrize("name", QUOTED)
def test_simultaneous_resistance_and_reactance(circuit, name):
    value, u = QUOTED[name]
    computed_u = math.sqrt(by_the_law_of_propagation()["RXZ".index(name), "RXZ".index(name)])
    assert circuit[name].value == pytest.approx(value, abs=0.0006)
    assert circuit[name].u == pytest.approx(computed_u, rel=0.003)
    assert computed_u == pytest.approx(u, abs=0.0006)
    low, high = circuit[name].interval95
    assert (high - low) / 2 == pytest.approx(1.959964 * computed_u, rel=0.01)


def test_draws_of_two_measures_keep_their_correlation(circuit):
    covariance = by_the_law_of_propagation()
    computed = covariance[0, 1] / math.sqrt(covariance[0, 0] * covariance[1, 1])
    assert np.corrcoef(circuit["R"].draws, circuit["X"].draws)[0, 1] == pytest.approx(
        computed, abs=0.005
    )
    assert computed == pytest.approx(QUOTED_CORRELATION_OF_R_AND_X, abs=0.0006)


def test_draws_that_forget_the_correlation_give_another_answer():
    generator = np.random.default_rng(1002008)
    apart = MEAN + generator.standard_normal((N_DRAWS, 3)) * np.sqrt(np.diag(COVARIANCE_OF_MEAN))
    wrong = measured(with_best_estimate(of_circuit(*MEAN)["R"], of_circuit(*apart.T)["R"]))
    assert wrong.u > 2 * QUOTED["R"][1]
