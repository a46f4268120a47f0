"""Every sentence that a player reads is one that a player of twelve can read."""

import pytest

from pipeline.feedback.words import load_words
from tests.fixtures.sentences import hard_to_read, sentences_of, words_of

WORDS = load_words()
NUMBER = "1.71 m, give or take 0.04 m"
SHOWN = {
    "number": NUMBER, "range": "1.41 to 1.80 m", "reason": "feet out of view", "aim": "aim for it",
    "inside": 5, "out": 3, "below": 2, "above": 2, "n": 8, "least": 6, "k": 3,
    "early": "1.71 m", "late": "1.52 m", "smallest": "0.10 m", "move": "Split dodge",
    "sentence": "No change.", "spread": "0.10 m", "unseen": 2,
    "count": "8 throws", "reps": "reps 2 and 4",
    "list": "2", "and": "4",
}  # fmt: skip


def filled(sentence, key, words=WORDS):
    phrases = words.measure[key]
    said = phrases["said"].format(number=NUMBER)
    texts = []
    for side in ("low", "high"):
        parts = {
            **SHOWN,
            "said": said,
            "Said": said[:1].upper() + said[1:],
            "name": phrases["name"],
            "wrong": phrases[side],
            "try": phrases[f"try_{side}"],
        }
        texts.append(sentence.format(**parts))
    return texts


@pytest.mark.parametrize("key", WORDS.measure)
@pytest.mark.parametrize("section", ["sentences", "session"])
def test_what_is_said_of_a_measure_is_easy_to_read(key, section):
    for name, sentence in getattr(WORDS, section).items():
        for text in filled(sentence, key):
            assert hard_to_read(text) == [], name


@pytest.mark.parametrize("move", WORDS.of_move)
def test_what_is_said_otherwise_in_one_move_is_easy_to_read(move):
    for key in WORDS.of_move[move]:
        for name, sentence in (*WORDS.sentences.items(), *WORDS.session.items()):
            for text in filled(sentence, key, WORDS.for_move(move)):
                assert hard_to_read(text) == [], name


@pytest.mark.parametrize("section", ["cautions", "riders", "session_table"])
def test_what_is_said_of_a_clip_is_easy_to_read_and_diagnoses_nothing(section):
    for name, sentence in getattr(WORDS, section).items():
        for text in filled(sentence, "release_height_m"):
            assert hard_to_read(text) == [], name


def test_the_check_of_readability_can_fail():
    assert hard_to_read("Your knee valgus was 12 degrees.") == ["valgus"]
    assert hard_to_read("It is so. " + "And " * 33 + "so.")
    assert sentences_of("It was 0.40 m. Next rep, jump.") == ["It was 0.40 m.", "Next rep, jump."]
    assert words_of("It was 0.40 m, give or take 3 degrees") == ["It", "was", "give", "or", "take"]
