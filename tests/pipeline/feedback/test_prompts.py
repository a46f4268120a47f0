import pytest

from pipeline.feedback.cautions import flag_cautions, raised_flags
from pipeline.feedback.words import load_words
from tests.fixtures.sessions import measured, not_measured

WORDS = load_words()


@pytest.mark.parametrize(
    ("value", "u", "is_raised"),
    [
        (14.0, 3.0, True),
        (10.0, 3.0, True),
        (9.0, 1.0, False),  # not as far as a coach wants to look
        (12.0, 8.0, False),  # the film cannot even say towards which side
        (-14.0, 3.0, False),  # outwards
        (14.0, None, False),
    ],
)
def test_a_knee_is_looked_at_when_it_surely_comes_in_and_far_enough(value, u, is_raised):
    knee = measured("knee_in_deg", value, u)
    assert ("knee_in" in raised_flags({knee.key: knee}, WORDS)) == is_raised


def test_what_was_not_measured_prompts_nothing():
    assert raised_flags({}, WORDS) == {}
    assert raised_flags({"knee_in_deg": not_measured("knee_in_deg")}, WORDS) == {}


def test_the_coach_says_from_where_on_to_look(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text("[look_from]\nknee_in_deg = 20\n", encoding="utf-8")
    knee = measured("knee_in_deg", 14.0, 3.0)
    assert raised_flags({knee.key: knee}, load_words(path)) == {}


def test_a_prompt_names_its_number_and_its_rep():
    trunk = measured("trunk_over_plant_deg", 21.0, 3.0)
    (caution,) = flag_cautions(4, {trunk.key: trunk}, WORDS)
    assert (caution.key, caution.reps) == ("trunk_over_plant", (4,))
    assert "21 degrees, give or take 6 degrees" in caution.text
    assert caution.numbers == {"trunk_over_plant_deg": 21.0}
