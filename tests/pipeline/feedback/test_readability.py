"""Every sentence that a player reads is one that a player of twelve can read."""

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


def hard_ones(sentences, key, words=WORDS):
    """Give the name of each sentence that is hard to read of a measure, and why it is."""
    return [
        (key, name, hard_to_read(text))
        for name, sentence in sentences
        for text in filled(sentence, key, words)
        if hard_to_read(text)
    ]


def test_what_is_said_of_a_measure_is_easy_to_read():
    sentences = [*WORDS.sentences.items(), *WORDS.session.items()]
    assert [hard for key in WORDS.measure for hard in hard_ones(sentences, key)] == []


def test_what_is_said_otherwise_in_one_move_is_easy_to_read():
    sentences = [*WORDS.sentences.items(), *WORDS.session.items()]
    hard = [
        (move, *found)
        for move, measures in WORDS.of_move.items()
        for key in measures
        for found in hard_ones(sentences, key, WORDS.for_move(move))
    ]
    assert hard == []


def test_what_is_said_of_a_clip_is_easy_to_read_and_diagnoses_nothing():
    for section in ("cautions", "riders", "session_table"):
        assert hard_ones(getattr(WORDS, section).items(), "release_height_m") == []


def test_the_check_of_readability_can_fail():
    assert hard_to_read("Your knee valgus was 12 degrees.") == ["valgus"]
    assert hard_to_read("It is so. " + "And " * 33 + "so.")
    assert sentences_of("It was 0.40 m. Next rep, jump.") == ["It was 0.40 m.", "Next rep, jump."]
    assert words_of("It was 0.40 m, give or take 3 degrees") == ["It", "was", "give", "or", "take"]
