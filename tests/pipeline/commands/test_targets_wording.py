"""Ranges and changes in words."""

import pytest

from pipeline.commands.targets_wording import (
    entry_words,
    history_text,
    ranges_in_force,
    ranges_text,
)
from pipeline.feedback.words import load_words
from pipeline.targets.entries import Bound, Scope
from pipeline.targets.history import Record
from tests.fixtures.ranges import MOVE, NO_RANGE, STEP, metres, targets


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        (None, "nothing"),
        ({"low_m": 0.5, "high": "open", "set_by": "a", "why": "b"}, "low_m = 0.5, high = open"),
        ({"no_range": True}, "no_range = true"),
    ],
)
def test_an_entry_in_words(entry, words):
    assert entry_words(entry) == words


def text(shipped, coach, stature_m=1.6, language="en", level="any"):
    return ranges_text(
        ranges_in_force(targets(shipped, coach), [MOVE], level, "left", None),
        stature_m,
        load_words(language=language, units="metric"),
    )


def test_a_range_with_both_bounds_from_one_place_names_it_once():
    said = text({Scope(MOVE): (metres(0.4), metres(1.0))}, {})
    assert said.splitlines() == [
        MOVE,
        f"  {STEP}  0.4 to 1 m",
        f"  {' ' * len(STEP)}  from shipped, any level (shipped of any level: ground of any level)",
    ]


def test_an_open_bound_and_a_switched_off_range_say_who_made_them_so():
    shipped = {Scope(MOVE): (metres(0.4), metres(1.0))}
    assert "high open: from coach, any level" in text(shipped, {Scope(MOVE): (None, metres(None))})
    off = text(shipped, {Scope(MOVE): NO_RANGE}).splitlines()
    assert off[1].endswith("no range")
    assert off[2].strip().startswith("from coach, any level")


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [(0.25, None, "= at least 0.40 m"), (None, 0.5, "= at most 0.80 m"), (0.25, 0.5, "= 0.40 to")],
)
def test_fractions_are_given_in_metres_too(low, high, words):
    bounds = tuple(b and Bound(value=b, scale="of_stature") for b in (low, high))
    assert words in text({}, {Scope(MOVE): bounds})


def test_what_was_found_in_the_history_is_no_change():
    found = Record(
        at="2026-03-01T10:00:00Z", action="found", by="", why="", move="", level="", hand="",
        athlete="", measure="", old=None, new=None, text="", digest="0123456789ab",
    )  # fmt: skip
    assert history_text([found], load_words()).endswith("written or changed by hand")


def test_ranges_are_said_in_spanish_with_the_words_of_the_coach_as_they_are():
    bounds = (Bound(value=0.25, scale="of_stature"), metres(1.0))
    said = text({}, {Scope(MOVE, "youth", "left"): bounds}, language="es", level="youth")
    assert said.splitlines()[1:] == [
        f"  {STEP}  de 0,25 de la estatura a 1 m = de 0,40 a 1,00 m",
        f"  {' ' * len(STEP)}  viene de: del entrenador, nivel infantil, mano izquierda "
        "(coach of level youth, left hand: ground of level youth, left hand)",
    ]


def test_the_history_is_said_in_spanish():
    made = Record(
        at="2026-03-01T10:00:00Z", action="undo", by="Coach K.", why="too hard", move=MOVE,
        level="any", hand="right", athlete="7", measure=STEP, old={"low_m": 0.5}, new=None,
        text="", digest="0123456789ab",
    )  # fmt: skip
    assert history_text([made], load_words(language="es")).splitlines() == [
        "2026-03-01T10:00:00Z  0123456789ab  deshecho  "
        f"{MOVE} {STEP}, cualquier nivel, mano derecha, jugador 7",
        "    low_m = 0.5  ->  nada",
        "    por Coach K.: too hard",
    ]
