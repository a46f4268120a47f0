"""Numbers as people read them: read back, they lie within the rounding, and promise no more."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.messages import shipped

FOOT_M, INCH_M, MPH_MPS = 0.3048, 0.0254, 0.44704
"""Yard and pound agreement of 1959: exact; a mile an hour is 1609.344 m in 3600 s."""

METRIC, FEET = shipped("en", "metric").figures, shipped("en", "feet").figures
COMMA = shipped("es", "feet").figures

lengths = st.floats(-30.0, 30.0, allow_nan=False)
widths = st.floats(0.0, 3.0, allow_nan=False)


def read_m(said):
    """A length in metres from what was said of it."""
    said = said.replace(",", ".")
    sign = -1.0 if said.startswith("-") else 1.0
    feet = re.search(r"([\d.]+) ft", said)
    inches = re.search(r"([\d.]+) in", said)
    metres = re.search(r"([\d.]+) m\b", said)
    return sign * (
        (float(feet[1]) * FOOT_M if feet else 0.0)
        + (float(inches[1]) * INCH_M if inches else 0.0)
        + (float(metres[1]) if metres else 0.0)
    )


@pytest.mark.parametrize(
    ("metres", "said"),
    [
        (1.7018, "5 ft 7 in"), (1.71, "5 ft 7 in"), (1.8288, "6 ft 0 in"), (1.825, "6 ft 0 in"),
        (0.24, "9.4 in"), (0.3048, "1 ft 0 in"), (0.3042, "1 ft 0 in"), (0.0, "0.0 in"),
        (-0.08, "-3.1 in"), (-0.0001, "0.0 in"), (-0.4064, "-1 ft 4 in"),
    ],
)  # fmt: skip
def test_lengths_are_said_in_feet_and_inches(metres, said):
    assert FEET.quantity(metres, "m", 2) == said
    assert COMMA.quantity(metres, "m", 2) == said.replace(".", ",")


def test_other_quantities_are_said_in_the_units_of_the_sport():
    assert FEET.quantity(13.4112, "mps", 1) == "30.0 mph"
    assert FEET.quantity(9.0, "m", 0) == "30 ft"
    assert FEET.quantity(0.25, "cm", 0) == "9.8 in"
    assert METRIC.quantity(0.25, "cm", 0) == "25 cm"
    for value, unit, decimals in ((0.31, "s", 2), (14.0, "deg", 0), (0.8, "ratio", 2)):
        assert FEET.quantity(value, unit, decimals) == METRIC.quantity(value, unit, decimals)


@given(lengths)
def test_a_length_that_is_read_back_lies_within_the_rounding(metres):
    step = INCH_M if abs(metres) >= 11.95 * INCH_M else 0.1 * INCH_M
    assert read_m(FEET.quantity(metres, "m", 2)) == pytest.approx(metres, abs=0.5 * step + 1e-9)
    assert read_m(METRIC.quantity(metres, "m", 2)) == pytest.approx(metres, abs=0.005 + 1e-9)


@given(st.floats(-40.0, 40.0, allow_nan=False))
def test_a_speed_that_is_read_back_lies_within_the_rounding(speed_mps):
    said = float(FEET.quantity(speed_mps, "mps", 1).split()[0])
    assert said * MPH_MPS == pytest.approx(speed_mps, abs=0.05 * MPH_MPS + 1e-9)


@given(widths, lengths)
def test_a_give_or_take_never_promises_more_than_is_known(half_width, value):
    for figures in (METRIC, FEET):
        shown = read_m(figures.half_width(half_width, value, "m", 2))
        assert shown >= half_width - 1e-6
        assert shown <= half_width + 1.02 * INCH_M
        assert shown > 0.0
    speed = float(FEET.half_width(half_width, 9.0, "mps", 1).split()[0]) * MPH_MPS
    assert half_width - 1e-6 <= speed <= half_width + 0.11 * MPH_MPS


@given(lengths, widths)
def test_a_give_or_take_is_said_in_the_steps_of_its_value(value, half_width):
    steps = {"m": 0, "in": 0}
    for said in (FEET.quantity(value, "m", 2), FEET.half_width(half_width, value, "m", 2)):
        steps["m"] += "ft" in said
        steps["in"] += "." in said
    assert steps["m"] <= 2
    if abs(value) >= 11.95 * INCH_M:
        assert "." not in FEET.half_width(half_width, value, "m", 2)


@given(lengths)
def test_no_number_says_minus_zero(value):
    for figures in (METRIC, FEET, COMMA):
        said = figures.quantity(value, "m", 2)
        assert not re.fullmatch(r"-0([.,]0+)? \w+", said)
    assert math.isfinite(value)


def test_a_column_names_its_unit_or_each_number_does():
    assert (METRIC.column("m"), METRIC.in_column(1.714, "m", 2)) == ("m", "1.71")
    assert (FEET.column("m"), FEET.in_column(1.714, "m", 2)) == ("", "5 ft 7 in")
    assert (FEET.column("mps"), FEET.in_column(9.0, "mps", 1)) == ("mph", "20.1")
    assert (FEET.column("deg"), FEET.in_column(9.0, "deg", 0)) == ("degrees", "9")


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_no_finite_number_is_written_as_such_and_stops_nothing(value):
    for figures in (METRIC, FEET):
        for unit in ("m", "cm", "mps", "deg"):
            for up in (False, True):
                assert str(value) in figures.quantity(value, unit, 2, up=up)
