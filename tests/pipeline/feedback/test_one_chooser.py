"""Terminal, report, queue, feedback and session name the same thing for a rep."""

import numpy as np
import pytest

from pipeline.commands.rep_table import rep_table
from pipeline.core.types import Scene
from pipeline.feedback.priority import ranked_verdicts
from pipeline.feedback.rep_feedback import rep_sentences
from pipeline.feedback.session_feedback import session_sentences
from pipeline.feedback.words import load_words
from pipeline.log.review_priority import flag_of
from pipeline.report.rep_section import rep_view
from tests.fixtures.sessions import measured, rep_of

WORDS = load_words()
MOVE = "throwback_pass"
ONE = np.ones(1)
SCENE = Scene(
    grade="B", focal_px=ONE, pitch_deg=ONE, roll_deg=ONE, height_m=ONE,
    principal_px=np.ones(2), stature_m=ONE, body_scale=ONE,
)  # fmt: skip


def rep(index=1, step_m=0.62, turn_deg=150.0, release_s=1.6):
    return rep_of(
        index,
        MOVE,
        measured("step_back_m", step_m),
        measured("turn_away_deg", turn_deg, 5),
        measured("plant_to_release_s", release_s),
    )


@pytest.mark.parametrize(
    "values",
    [{"step_m": 0.1}, {"step_m": 0.1, "release_s": 0.5}, {"release_s": 1.6}, {"release_s": 0.93}],
)
def test_all_name_the_same_fault(values):
    result = rep(**values)
    chief = ranked_verdicts(MOVE, result.verdicts, result.measurements, WORDS.weight_of)[0]
    assert chief.word == "out of range"
    title = WORDS.title(chief.key)
    table = [line.strip() for line in rep_table([result], WORDS)]
    assert title.startswith(table[3].split("  ")[0])  # a long title goes on in the next line
    assert rep_view(WORDS, result, None, scene=SCENE).about == title
    assert flag_of(result, WORDS.weight_of)[:2] == ("fault", chief.key)
    phrases = WORDS.for_move(MOVE).measure[chief.key]
    assert (
        phrases[chief.side] in rep_sentences(MOVE, result.measurements, result.verdicts, WORDS)[-1]
    )
    session = session_sentences([rep(index, **values) for index in (1, 2, 3)], WORDS)
    assert session.work_on.key == chief.key


def test_verdicts_come_by_word_before_score():
    result = rep(release_s=1.6)
    words = [
        verdict.word
        for verdict in ranked_verdicts(MOVE, result.verdicts, result.measurements, WORDS.weight_of)
    ]
    assert words == sorted(
        words,
        key=("out of range", "too close to call", "in range", "not measured").index,
    )
