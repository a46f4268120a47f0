"""Conformance probabilities against the worked examples of JCGM 106:2012, section 7.

The inputs were written down from memory of the document and the printed results close exactly
with them, so the arithmetic is checked; the primary text was not at hand.
"""

import pytest

from pipeline.types import Measurement, TargetRange
from pipeline.verdicts import judge

EXAMPLES = [
    # clause, quantity, unit, value, u, low, high, probability inside, as printed
    ("7.3.2", "burst pressure", "kPa", 509.7, 8.6, 490.0, None, 0.9890, 0.99),
    ("7.3.3", "breakdown voltage", "V", -5.47, 0.05, None, -5.40, 0.9192, 0.92),
    ("7.4", "kinematic viscosity", "mm2/s", 13.6, 1.8, 12.5, 16.3, 0.6626, 0.66),
]


@pytest.mark.parametrize(
    ("clause", "quantity", "unit", "value", "u", "low", "high", "inside", "printed"), EXAMPLES
)
def test_conformance_probability_as_worked(
    clause, quantity, unit, value, u, low, high, inside, printed
):
    verdict = judge(
        Measurement(key=quantity, unit=unit, value=value, u=u),
        TargetRange(
            key=quantity,
            unit=unit,
            low=low,
            high=high,
            words="",
            set_by="JCGM 106:2012",
            why=clause,
        ),
    )
    assert verdict.probability_inside == pytest.approx(inside, abs=2e-4)
    assert round(verdict.probability_inside, 2) == printed
