"""All that is said of a clip, in the language and the units of its reader."""

import re

import pytest

from pipeline.core.messages import message
from pipeline.core.results import FieldSide
from pipeline.feedback.clip_feedback import clip_feedback
from pipeline.feedback.words import load_words, range_text, rep_text
from tests.fixtures.sessions import measured, not_measured, rep_of
from tests.pipeline.core.test_languages import texts


def clip_of_reps():
    """Shots of which one thing changes and one is hidden, and dodges close to a defender."""
    shots = [
        rep_of(
            index,
            "high_to_low_shot",
            measured("hand_height_before_release_m", 1.5 + 0.02 * index),
            measured("hand_drop_m", 0.6, 0.05),
            measured("top_hand_speed_mps", 9.3, 0.4),
            not_measured("fake_to_release_s", message("reasons.hand_hidden_high")),
        )
        for index in range(1, 8)
    ]
    dodges = [
        rep_of(
            index,
            "close_gap_dodge",
            measured("cushion_m", 0.6, 0.05),
            measured("cushion_arm_ratio", 0.8, 0.05),
            measured("knee_in_deg", 14.0, 2.0),
            not_measured("speed_kept_ratio", message("reasons.no_sides_of_cut", time=0.3)),
        )
        for index in range(8, 11)
    ]
    unseen = not_measured("step_back_m", message("reasons.no_run_in"))
    return [*shots, *dodges, rep_of(11, "throwback_pass", unseen), rep_of(12, "unknown")]


def said_of_clip(words):
    """Every text of a clip."""
    told = clip_feedback(
        clip_of_reps(), stature_m=1.8, defender_in_view=True, level="youth", words=words
    )
    reps = [text for rep in told.reps for text in rep.feedback]
    reps += [caution.text for rep in told.reps for caution in rep.cautions]
    reps += [rep_text(rep.rep, FieldSide(), words) for rep in told.reps]
    reasons = [
        words.translate(m.reason)
        for rep in told.reps
        for m in rep.measurements.values()
        if m.reason
    ]
    cautions = [caution.text for caution in told.cautions]
    return [*reps, *reasons, *cautions, *told.session.sentences, *told.notes]


def english_parts():
    """The parts of every English text that stand between what is put in, if they say something."""
    for place, text in texts("en").items():
        for part in re.split(r"\{[^}]*\}", text):
            if len(re.findall(r"[A-Za-z]{2,}", part)) >= 3:
                yield place, part.strip()


def test_in_spanish_no_english_sentence_is_left():
    said = "\n".join(said_of_clip(load_words(language="es")))
    left = [(place, part) for place, part in english_parts() if part.lower() in said.lower()]
    assert left == []
    assert "{" not in said


def test_the_search_for_english_finds_it_in_english():
    said = "\n".join(said_of_clip(load_words())).lower()
    assert sum(part.lower() in said for _, part in english_parts()) > 15


@pytest.mark.parametrize("language", ["en", "es"])
def test_in_feet_no_metre_is_left(language):
    metric = "\n".join(said_of_clip(load_words(language=language, units="metric")))
    feet = "\n".join(said_of_clip(load_words(language=language, units="feet")))
    assert re.search(r"\d m\b", metric)
    assert not re.search(r"\d (m|cm|m/s)\b", feet)
    assert re.search(r"\d ft \d+ in\b", feet)


def test_numbers_have_the_comma_of_the_language():
    spanish = "\n".join(said_of_clip(load_words(language="es")))
    assert re.search(r"\d,\d\d m\b", spanish)
    assert not re.search(r"\d\.\d", spanish)


def test_names_follow_the_language():
    words = load_words(language="es")
    assert words.verdict("out of range", "low") == "fuera de rango, por debajo"
    assert load_words().verdict("out of range", "low") == "out of range, low"
    assert words.title("step_back_m") == "Largo del paso atrás"
    assert words.title("no_such_thing") == "no such thing"
    assert words.move_name("roll_dodge") == "regate con giro (roll)"
    assert words.found_text(None, ["roll_dodge", "unknown"]) == (
        "2 repeticiones (regate con giro (roll) 1, movimiento desconocido 1)"
    )
    assert words.ground("common practice, no source") == "práctica común, sin fuente"
    assert words.ground("as I teach it") == "as I teach it"
    both = message("grounds.both", low="as I teach it", high="common practice, no source")
    assert words.ground(both) == (
        "límite de abajo: as I teach it; límite de arriba: práctica común, sin fuente"
    )


def test_a_range_is_said_in_feet_at_both_ends():
    target = clip_of_reps()[0].verdicts[0].target
    assert range_text(load_words(units="feet"), target) == "5 ft 7 in to 7 ft 1 in"
    assert range_text(load_words(), target) == "1.69 to 2.16 m"
