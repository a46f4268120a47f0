"""A reason that the log keeps in English is said in the language of the page."""

import string

import pytest

from pipeline.catalogue import shipped_texts
from pipeline.message import message, shipped
from pipeline.review.kept_texts import SECTIONS, message_again

SPANISH = shipped("es")
PLAIN = [
    f"{section}.{name}"
    for section in SECTIONS
    for name, text in shipped_texts("en")[section].items()
    if not any(brace for _, brace, _, _ in string.Formatter().parse(text))
]


@pytest.mark.parametrize("key", PLAIN)
def test_each_reason_is_found_again(key):
    assert SPANISH.said(message_again(str(message(key)))) == SPANISH.text(key)


@pytest.mark.parametrize(
    "reason",
    [
        message("reasons.no_event", event="events.hands_switched"),
        message("reasons.no_sides_of_cut", time=0.3),
        message("camera.moved", far=message("camera.far", moved=35.0), why=""),
        message("camera.moved", far=message("camera.too_far"),
                why=message("camera.and_why", why=message("camera.carried"))),
    ],
)  # fmt: skip
def test_what_is_put_into_a_reason_is_found_again(reason):
    assert SPANISH.said(message_again(str(reason))) == SPANISH.said(reason) != reason


@pytest.mark.parametrize("text", ["", "the coach wrote this", "the instant of 'x' was not found."])
def test_what_nobody_of_the_catalogue_said_is_left_as_it_is(text):
    assert SPANISH.said(message_again(text)) == text
