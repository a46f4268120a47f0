"""What is registered as a measure or as a move is whole: function, moves, unit, texts."""

import ast
from pathlib import Path

import pytest

import pipeline.measures
from pipeline.core.move_table import MOVE_INFO, known_moves
from pipeline.measures import MEASURES, measures_of
from pipeline.measures.registry import measure
from pipeline.moves.finders import FINDERS


def test_every_decorated_function_of_the_folder_is_registered():
    (folder,) = pipeline.measures.__path__
    found = {
        decorator.args[0].value
        for path in Path(folder).glob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef)
        for decorator in node.decorator_list
        if isinstance(decorator, ast.Call) and ast.unparse(decorator.func) == "measure"
    }
    assert found == set(MEASURES)


def test_every_move_can_be_found_and_measured():
    assert set(known_moves()) == set(FINDERS) == set(MOVE_INFO)
    assert all(measures_of(move) for move in known_moves())
    assert measures_of("unknown") == ()


def test_the_unit_is_the_last_word_of_the_name():
    for info in MEASURES.values():
        assert info.is_count or info.key.endswith(f"_{info.unit_word}"), info.key
        assert info.definition.endswith("."), info.key


@pytest.mark.parametrize(
    ("key", "moves"), [("hand_drop_m", ("split_dodge",)), ("new_m", ("no_such_move",))]
)
def test_a_key_that_is_taken_and_a_move_that_there_is_not_are_refused(key, moves):
    with pytest.raises(ValueError, match=key):
        measure(key, moves=moves)(lambda view: None)
