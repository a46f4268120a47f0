"""The table of measures and the functions belong together."""

import pytest

from pipeline.measures.registry import FUNCTIONS, NEEDS_NO_GROUND
from pipeline.measures.table import MEASURES, UNIT_WORDS, measures_of
from pipeline.move_table import MOVE_INFO, known_moves
from pipeline.moves import FINDERS


def test_every_row_has_its_function_and_every_function_its_row():
    assert set(FUNCTIONS) == set(MEASURES)
    assert set(MEASURES) >= NEEDS_NO_GROUND


def test_every_move_can_be_found_and_measured():
    assert set(known_moves()) == set(FINDERS) == set(MOVE_INFO)
    assert all(measures_of(move) for move in known_moves())
    assert measures_of("unknown") == ()


@pytest.mark.parametrize("info", MEASURES.values(), ids=lambda info: info.key)
def test_the_unit_is_the_last_word_of_the_name(info):
    assert info.unit_word in UNIT_WORDS[info.unit]
    if not info.is_count:
        assert info.key.endswith(f"_{info.unit_word}")
