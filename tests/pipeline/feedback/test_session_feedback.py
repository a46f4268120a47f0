import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.results import TargetRange
from pipeline.feedback.session_feedback import session_sentences
from pipeline.feedback.words import load_words
from pipeline.targets.verdicts import judge
from tests.fixtures.sentences import sentences_of
from tests.fixtures.sessions import measured, not_measured, rep_of, reps_of, words_with

MOVE = "throwback_pass"


def passes(steps, turns=(), times=()):
    """Throwbacks with these step lengths, turns of the chest and times."""
    reps = []
    for i, step in enumerate(steps):
        numbers = [measured("step_back_m", step)]
        if i < len(turns):
            numbers.append(measured("turn_away_deg", turns[i], 4.0))
        if i < len(times):
            numbers.append(measured("plant_to_release_s", times[i]))
        reps.append(rep_of(i + 1, MOVE, *numbers))
    return reps


def test_one_thing_that_went_well_and_one_to_work_on():
    session = session_sentences(passes([0.7] * 4, [130] * 4))
    assert session.went_well.key == "step_back_m"
    assert session.went_well.text.startswith(
        "Went well in 4 of 4 reps. On average there, the length of"
    )
    assert "0.70 m, give or take 0.04 m" in session.went_well.text
    assert (session.work_on.key, session.work_on.side) == ("turn_away_deg", "high")
    assert "seen in 4 of 4 reps" in session.work_on.text
    assert "130 degrees" in session.work_on.text
    assert "keep your chest open" in session.work_on.text


def test_the_number_of_what_to_work_on_is_that_of_the_reps_that_were_wrong():
    session = session_sentences(passes([0.1, 0.2, 0.8, 0.9]))
    assert "seen in 2 of 4 reps. On average there, the length of your step back was 0.15 m" in (
        session.work_on.text
    )
    assert session.went_well is None  # the same measure is not praised beside it


def test_what_is_wrong_once_in_many_reps_is_not_the_thing_to_work_on():
    assert session_sentences(passes([0.1] + 4 * [0.7])).work_on is None
    assert session_sentences(passes([0.1] + 3 * [0.7])).work_on is not None


def test_the_thing_to_work_on_is_not_the_most_frequent_but_what_matters_most():
    session = session_sentences(passes([0.05, 0.05, 0.05, 0.7], times=[0.97] * 4))
    assert session.work_on.key == "step_back_m"


def test_too_short_and_too_long_is_told_as_such():
    text = session_sentences(passes([0.1, 1.6, 0.2, 1.7, 0.7])).work_on.text
    assert "under the range in 2 of 5 reps, over it in 2" in text
    assert "the same every time" in text


def test_a_single_rep_is_no_session():
    session = session_sentences(passes([0.1]))
    assert session.sentences == ()
    assert session.moves[0].n_reps == 1
    assert session_sentences([]).moves == ()


def test_no_clear_change_is_an_answer_and_names_what_can_be_told():
    text = session_sentences(passes([0.70, 0.75, 0.65, 0.72, 0.68, 0.71])).trend.text
    assert text.startswith("No clear change over the session, how long your step back was: 0.72 m")
    assert re.search(r"A change of less than 0\.\d\d m cannot be told", text)


def test_a_clear_change_is_told_from_the_first_to_the_last():
    text = session_sentences(
        passes([0.90, 0.91, 0.92, 0.7, 0.71, 0.72, 0.50, 0.51, 0.52])
    ).trend.text
    assert text == (
        "A change over the session, how long your step back was: 0.91 m over your first 3 reps, "
        "0.51 m over your last 3."
    )


def test_of_many_measures_one_that_changes_a_little_is_not_told_as_a_change():
    # Clear at 19 in 20 for itself, but not as the surest of five.
    steps = [0.70, 0.66, 0.74, 0.72, 0.78, 0.70, 0.79, 0.75, 0.83]
    still = [measured(k, v) for k, v in (("release_height_m", 1.5), ("top_hand_speed_mps", 9.0),
             ("elbow_at_release_deg", 150.0), ("trunk_lean_deg", 12.0))]  # fmt: skip
    alone = session_sentences(passes(steps))
    (step,) = alone.moves[0].measures
    assert 0.01 < step.trend.probability_by_chance < 0.05
    assert alone.trend.text.startswith("A change")
    many = [rep_of(i + 1, MOVE, measured("step_back_m", v), *still) for i, v in enumerate(steps)]
    assert session_sentences(many).trend.text.startswith("No clear change")


def test_few_reps_are_said_to_be_too_few_for_a_change():
    assert "that takes 6 reps" in session_sentences(passes([0.7] * 5)).trend.text


def test_with_several_moves_each_sentence_says_of_which():
    reps = [*passes([0.1, 0.2]), *(
        rep_of(i, "high_to_low_shot", measured("hand_drop_m", 0.6)) for i in (3, 4, 5)
    )]  # fmt: skip
    session = session_sentences(reps)
    assert [move.move for move in session.moves] == [MOVE, "high_to_low_shot"]
    assert session.went_well.text.startswith("High-to-low shot. Went well in 3 of 3 reps")
    assert session.work_on.text.startswith("Throwback pass. To work on")


def test_reps_that_could_not_be_measured_are_not_hidden():
    reps = passes([0.7, 0.8, 0.1, 0.2])
    reps += [rep_of(i, MOVE, not_measured("step_back_m")) for i in (5, 6, 7)]
    assert (
        "seen in 2 of 4 reps (3 more could not be measured)" in session_sentences(reps).work_on.text
    )


def test_each_move_speaks_of_a_measure_in_its_own_words():
    move = "low_to_high_shot"
    time = measured("fake_to_release_s", 1.5)
    target = TargetRange(key=time.key, unit="s", low=0.2, high=0.6, words="", set_by="", why="")
    reps = [
        replace(rep_of(i, move), measurements={time.key: time}, verdicts=(judge(time, target),))
        for i in (1, 2)
    ]
    text = session_sentences(reps).work_on.text
    assert "from your low fake" in text
    assert "come back up" in text


def test_what_was_hardly_ever_seen_counts_for_less():
    hidden = not_measured("turn_away_deg")
    reps = [rep_of(i, MOVE, measured("step_back_m", 0.3), hidden) for i in range(1, 7)]
    seen = [
        rep_of(i, MOVE, measured("step_back_m", 0.3), measured("turn_away_deg", 150, 4))
        for i in (7, 8)
    ]
    assert session_sentences([*reps, *seen]).work_on.key == "step_back_m"


def with_jab(reps, value, knee_deg):
    """The reps with a narrow plant and a knee, of which this version measures neither."""
    made = []
    for result in reps:
        jab, knee = measured("jab_width_m", value), measured("knee_in_deg", knee_deg, 2.0)
        target = TargetRange(
            key=jab.key, unit="m", low=0.45, high=None, words="", set_by="", why=""
        )
        made.append(
            replace(
                result,
                measurements={**result.measurements, jab.key: jab, knee.key: knee},
                verdicts=(*result.verdicts, judge(jab, target)),
            )
        )
    return made


def test_wider_is_asked_for_with_the_caution_and_not_at_all_with_a_knee_to_look_at():
    words = words_with("jab_width_m", "knee_in_deg")
    reps = [rep_of(i, "split_dodge") for i in (1, 2)]
    asked = session_sentences(with_jab(reps, 0.2, knee_deg=1.0), words).work_on
    assert asked.key == "jab_width_m"
    assert "while your knee stays over your foot" in asked.text
    assert session_sentences(with_jab(reps, 0.2, knee_deg=15.0), words).work_on is None
    assert session_sentences(with_jab(reps, 0.6, knee_deg=1.0), words).went_well is not None
    assert session_sentences(with_jab(reps, 0.6, knee_deg=15.0), words).went_well is None


@pytest.mark.slow
@given(st.lists(st.floats(0.05, 2.0), min_size=1, max_size=9))
def test_every_claim_about_a_session_names_its_number(steps):
    session = session_sentences(reps_of(MOVE, "step_back_m", steps))
    assert len(session.sentences) <= 3
    for text in session.sentences:
        assert "{" not in text
        assert "nan" not in text
        for sentence in sentences_of(text):
            if not sentence.startswith(("The range is", "Next time", "Aim for")):
                assert re.search(r"\d", sentence), sentence


@pytest.mark.parametrize("order", [1, -1])
def test_the_order_of_the_reps_does_not_change_what_went_well(order):
    reps = passes([0.7, 0.1, 0.8, 0.2], [50, 60, 130, 140])[::order]
    session = session_sentences(reps, load_words())
    assert session.work_on.key == "step_back_m"
    assert session.went_well.key == "turn_away_deg"
