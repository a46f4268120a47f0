from pipeline.feedback.clip_feedback import clip_feedback
from tests.fixtures.sessions import measured, rep_of

SHOT = "high_to_low_shot"


def test_reps_are_told_after_the_session_and_never_against_it():
    # The session: from the fake to the shot it takes too long. One rep also held its hands too
    # briefly; to hold them longer pulls against that.
    reps = [
        rep_of(i, SHOT, measured("fake_to_release_s", 1.5), measured("hand_drop_m", 0.6))
        for i in range(1, 5)
    ]
    reps.append(
        rep_of(
            5,
            SHOT,
            measured("hands_high_hold_s", 0.02, 0.005),
            measured("hand_drop_m", 0.30, 0.05),
        )
    )
    told = clip_feedback(reps, stature_m=1.8, defender_in_view=False)
    assert told.session.work_on.key == "fake_to_release_s"
    assert told.session.went_well.key == "hand_drop_m"
    assert "you dropped your top hand" in told.reps[4].feedback[-1]
    assert all(result.feedback for result in told.reps)


def test_if_only_that_is_wrong_the_rep_says_its_number_and_points_to_the_session():
    late = [rep_of(i, SHOT, measured("fake_to_release_s", 1.5)) for i in (1, 2, 3)]
    brief = rep_of(4, SHOT, measured("hands_high_hold_s", 0.02, 0.005))
    told = clip_feedback([*late, brief], stature_m=1.8, defender_in_view=False)
    (said,) = told.reps[3].feedback
    assert "hands stayed high for 0.02 s" in said
    assert said.endswith("First work on what the session says.")


def test_a_rep_carries_its_own_prompts_to_look():
    reps = [rep_of(i, "angle_cut_dodge", measured("knee_in_deg", deg, 2.0)) for i, deg in
            ((1, 2.0), (2, 15.0))]  # fmt: skip
    told = clip_feedback(reps, stature_m=1.8, defender_in_view=False)
    assert told.reps[0].cautions == ()
    (here,) = told.reps[1].cautions
    assert (here.key, here.reps) == ("knee_in", (2,))
    assert [caution.key for caution in told.cautions] == ["knee_in", "load"]


def test_the_age_reaches_the_cautions():
    reps = [rep_of(1, "close_gap_dodge", measured("cushion_gap_m", 0.3))]
    told = clip_feedback(reps, stature_m=1.5, defender_in_view=True, age_years=11)
    assert "no_checks" in {caution.key for caution in told.cautions}
    assert "not scorable" in " ".join(told.notes)


def test_a_clip_without_reps_says_nothing():
    told = clip_feedback([], stature_m=1.8, defender_in_view=True)
    assert (told.reps, told.cautions, told.notes, told.session.sentences) == ((), (), (), ())
