import pytest

from pipeline.core.results import Measurement
from pipeline.feedback.cautions import find_cautions, not_scorable
from pipeline.feedback.session_feedback import session_sentences
from pipeline.feedback.words import load_words
from pipeline.targets.load import load_targets
from tests.fixtures.sessions import measured, rep_of

DODGE = "close_gap_dodge"


def cautions(move, *reps, defender_in_view=True, **told):
    """Cautions for reps of one move, each given by its measurements."""
    results = [rep_of(i, move, *numbers) for i, numbers in enumerate(reps, start=1)]
    found = find_cautions(
        results,
        stature_m=1.8,
        defender_in_view=defender_in_view,
        session=session_sentences(results),
        **told,
    )
    return {caution.key: caution for caution in found}


NEAR = (measured("cushion_gap_m", 0.3),)
FAR = (measured("cushion_arm_ratio", 1.3), measured("cushion_gap_m", 1.1))


def test_the_count_is_a_number_for_the_log():
    (load,) = cautions("throwback_pass", (), (), (), defender_in_view=False).values()
    assert "3 throws" in load.text
    assert "no published limit" in load.text
    assert load.numbers == {"n_reps": 3.0}
    for person in ("coach", "athletic trainer", "parent"):
        assert person in load.text


def test_one_rep_is_counted_in_the_singular():
    assert "1 dodge:" in cautions(DODGE, (), defender_in_view=False)["load"].text


def test_moves_of_different_kinds_are_counted_apart():
    reps = [rep_of(1, "throwback_pass"), rep_of(2, DODGE), rep_of(3, "high_to_low_shot")]
    (load,) = find_cautions(reps, stature_m=1.8, defender_in_view=False)
    assert "2 throws and 1 dodge:" in load.text


def test_a_clip_without_reps_has_no_cautions():
    assert cautions(DODGE) == {}


@pytest.mark.parametrize(
    "near",
    [
        (measured("cushion_arm_ratio", 0.9),),
        (measured("cushion_gap_m", 0.5),),
        # Just out of reach by the best estimate, but the interval goes below it.
        (measured("cushion_arm_ratio", 1.02),),
    ],
)
def test_closer_than_an_arm_is_contact_work(near):
    contact = cautions(DODGE, FAR, near, near)["contact"]
    assert contact.reps == (2, 3)
    assert "In reps 2 and 3" in contact.text
    assert "protective equipment" in contact.text
    assert "someone in charge" in contact.text
    assert "blow to the head" in contact.text
    assert "licensed medical staff decide" in contact.text


def test_the_arm_is_the_one_that_the_cushion_was_counted_in():
    # Cushion 1.0 m at 2 arm lengths: an arm of 0.5 m.
    near_for_an_adult_only = (
        measured("cushion_m", 1.0),
        measured("cushion_arm_ratio", 2.0),
        measured("cushion_gap_m", 0.7),
    )
    assert set(cautions(DODGE, near_for_an_adult_only)) == {"load"}


def test_contact_is_said_once_however_many_reps():
    assert set(cautions(DODGE, *[NEAR] * 12)) == {"contact", "checks", "warding", "load"}


def test_a_distance_that_could_not_be_measured_is_not_taken_for_safe():
    hidden = (Measurement(key="cushion_gap_m", unit="m", reason="bodies overlap"),)
    told = cautions(DODGE, hidden)
    assert set(told) == {"contact_unknown", "load"}
    assert "could not be measured" in told["contact_unknown"].text
    assert set(cautions(DODGE, hidden, defender_in_view=False)) == {"load"}


def test_checks_and_the_free_arm_are_spoken_of_only_where_contact_is_likely():
    assert {"checks", "warding"} <= set(cautions(DODGE, NEAR))
    assert not {"checks", "warding"} & set(cautions(DODGE, FAR))
    told = cautions(DODGE, NEAR)
    for place in ("behind", "above the shoulders", "below the waist"):
        assert place in told["checks"].text
    assert "free arm" in told["warding"].text


@pytest.mark.parametrize(
    ("age_years", "level", "key"),
    [
        (9.0, "any", "no_checks"),
        (12.0, "youth", "no_checks"),
        (12.9, "school", "no_checks"),
        (13.0, "youth", None),
        (17.0, "any", None),
        (None, "youth", "no_checks_if"),
        (None, "school", None),
        (None, "any", None),
    ],
)
def test_at_12_and_under_the_youth_rules_allow_no_body_checks(age_years, level, key):
    told = cautions(DODGE, NEAR, age_years=age_years, level=level)
    assert {"no_checks", "no_checks_if"} & set(told) == ({key} if key else set())
    if key == "no_checks":
        assert told[key].numbers == {"age_years": age_years}
        assert "checks" not in told  # what is not allowed at all needs no rules of its own
    if key == "no_checks_if":
        assert told[key].text.startswith("If you are 12 or under")
    if key:
        assert "local rules" in told[key].text


def test_the_youth_rule_is_not_spoken_of_where_nobody_is_near():
    assert set(cautions(DODGE, FAR, age_years=10)) == {"load"}


def test_a_knee_that_comes_in_is_a_prompt_to_look_and_ask():
    told = cautions(
        "angle_cut_dodge",
        (measured("knee_in_deg", 13.0, 2.0),),
        (measured("knee_in_deg", 2.0, 2.0),),
        (measured("knee_in_deg", 17.0, 2.0), measured("trunk_over_plant_deg", 20.0, 2.0)),
        defender_in_view=False,
    )
    knee = told["knee_in"]
    assert knee.reps == (1, 3)
    assert "by up to 17 degrees, give or take 4 degrees" in knee.text
    assert knee.text.startswith("Look, and ask: in reps 1 and 3")
    assert "not that something is wrong" in knee.text
    assert told["trunk_over_plant"].reps == (3,)


FALLING = [1.60, 1.61, 1.59, 1.55, 1.54, 1.56, 1.45, 1.44, 1.46]


def test_a_hand_that_comes_down_late_is_a_prompt_to_look_and_rest():
    reps = [(measured("release_height_m", value, 0.01),) for value in FALLING]
    dropping = cautions("throwback_pass", *reps, defender_in_view=False)["dropping_late"]
    assert "from your first 3 reps to your last 3" in dropping.text
    assert "from 1.60 m to 1.45 m" in dropping.text
    assert dropping.numbers == pytest.approx(
        {"early_release_height_m": 1.60, "late_release_height_m": 1.45}
    )


def test_a_hand_that_rises_or_stays_or_is_meant_to_be_low_is_not():
    for values in (FALLING[::-1], [1.6, 1.5] * 5):
        reps = [(measured("release_height_m", value, 0.01),) for value in values]
        assert "dropping_late" not in cautions("throwback_pass", *reps)
    reps = [(measured("release_height_m", value, 0.01),) for value in FALLING]
    assert "dropping_late" not in cautions("high_to_low_shot", *reps)


def test_a_score_that_needs_several_cameras_is_said_to_be_not_scorable_once():
    (note,) = not_scorable([DODGE, DODGE, "throwback_pass"])
    assert "not scorable" in note
    assert "several cameras" in note
    assert not_scorable(["throwback_pass"]) == ()
    assert not_scorable([]) == ()


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("key", ["cushion_m", "cushion_gap_m", "cushion_arm_ratio"])
def test_nobody_is_sent_closer_to_a_defender_by_the_program(language, key):
    """Coming closer is contact work: the coach says how close, not a sentence beside a caution."""
    asks = {"en": "ask your coach", "es": "pregunta a tu entrenador"}[language]
    assert load_words(language=language).measure[key]["try_high"].startswith(asks)


@pytest.mark.parametrize(
    ("level", "has_range"),
    [("any", False), ("youth", False), ("school", True), ("college", True), ("adult", True)],
)
def test_the_cushion_has_a_range_for_grown_players_alone(level, has_range):
    ranges = load_targets(None).for_athlete("close_gap_dodge", level, 1.5)
    assert ("cushion_arm_ratio" in ranges) == has_range
