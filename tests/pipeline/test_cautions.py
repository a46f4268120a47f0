import pytest

from pipeline.cautions import find_cautions
from pipeline.measures.table import MEASURES
from pipeline.types import Measurement


def measured(key, value, u=0.02):
    interval95 = (value - 1.96 * u, value + 1.96 * u)
    return Measurement(key=key, unit=MEASURES[key].unit, value=value, u=u, interval95=interval95)


def rep(*measurements):
    return {measurement.key: measurement for measurement in measurements}


def cautions(move, *reps, defender_in_view=True):
    return find_cautions(move, reps, stature_m=1.8, defender_in_view=defender_in_view)


def test_the_count_is_a_number_for_the_log():
    (load,) = cautions("throwback_pass", rep(), rep(), rep(), defender_in_view=False)
    assert "3 throws" in load
    assert "no published limit" in load
    for person in ("coach", "athletic trainer", "parent"):
        assert person in load


def test_one_rep_is_counted_in_the_singular():
    (load,) = cautions("close_gap_dodge", rep(), defender_in_view=False)
    assert "1 dodge:" in load


def test_a_clip_without_reps_has_no_cautions():
    assert cautions("close_gap_dodge") == ()


@pytest.mark.parametrize(
    "near",
    [
        rep(measured("cushion_arm_ratio", 0.9)),
        rep(measured("cushion_gap_m", 0.5)),
        # Just out of reach by the best estimate, but the interval goes below it.
        rep(measured("cushion_arm_ratio", 1.02)),
    ],
)
def test_closer_than_an_arm_is_contact_work(near):
    far = rep(measured("cushion_arm_ratio", 1.3), measured("cushion_gap_m", 1.1))
    _, contact = cautions("close_gap_dodge", far, near, near)
    assert "In reps 2 and 3" in contact
    assert "protective equipment" in contact
    assert "someone in charge" in contact
    assert "blow to the head" in contact
    assert "licensed medical staff decide" in contact


def test_the_arm_is_the_one_that_the_cushion_was_counted_in():
    # Cushion 1.0 m at 2 arm lengths: an arm of 0.5 m.
    near_for_an_adult_only = rep(
        measured("cushion_m", 1.0),
        measured("cushion_arm_ratio", 2.0),
        measured("cushion_gap_m", 0.7),
    )
    assert len(cautions("close_gap_dodge", near_for_an_adult_only)) == 1


def test_contact_is_said_once_however_many_reps():
    near = rep(measured("cushion_gap_m", 0.3))
    assert len(cautions("close_gap_dodge", *[near] * 12)) == 2


def test_a_distance_that_could_not_be_measured_is_not_taken_for_safe():
    hidden = rep(Measurement(key="cushion_gap_m", unit="m", reason="bodies overlap"))
    _, contact = cautions("close_gap_dodge", hidden)
    assert "In reps" not in contact
    assert "could not be measured" in contact
    assert len(cautions("close_gap_dodge", hidden, defender_in_view=False)) == 1
