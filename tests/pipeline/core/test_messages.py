"""A text made deep inside: an English string everywhere, and said again in another language."""

import copy
import json
import pickle

import pytest

from pipeline.core.messages import Message, in_a_row, message, message_document, message_of, shipped

SPANISH = shipped("es", "metric")
FEET = shipped("en", "feet")


def test_a_message_is_its_english_text():
    said = message("reasons.no_defender")
    assert said == "no defender was seen in this rep"
    assert isinstance(said, str)
    assert json.dumps({"reason": said}) == '{"reason": "no defender was seen in this rep"}'
    assert {said: 1}["no defender was seen in this rep"] == 1


def test_a_message_is_said_in_another_language_and_other_units():
    height = message("scene.by_athlete", height=1.2, half_width=0.041)
    assert "camera height 1.20 m, give or take 0.05 m" in height
    assert "camera height 3 ft 11 in, give or take 2 in" in FEET.translate(height)
    assert "altura de la cámara 1,20 m, con 0,05 m de margen" in SPANISH.translate(height)


def test_a_plain_text_passes_unchanged():
    assert SPANISH.translate("by the coach") == "by the coach"


def test_what_stands_inside_another_message_is_said_too():
    moved = message("camera.moved", far=message("camera.far", moved=30.4), why="")
    note = message("scene.moved", camera=moved)
    assert note.startswith("The camera moved while filming (by up to 30 pixels): ground")
    assert SPANISH.translate(note).startswith(
        "La cámara se movió al grabar (hasta 30 píxeles): no se"
    )


def test_counts_titles_and_names_are_those_of_the_language():
    one, many = message("check.found_nobody", looks=1), message("check.found_nobody", looks=6)
    assert (one, many) == ("Nobody is found in 1 look.", "Nobody is found in 6 looks.")
    assert SPANISH.translate(one) == "No se encuentra a nadie en 1 vistazo."
    titles = message("check.measures", keys=("step_back_m", "cushion_m"))
    assert titles == "length of the step back, cushion to the defender, feet to feet"
    assert SPANISH.translate(titles).startswith("largo del paso atrás, espacio")
    event = message("reasons.no_event", event="events.release")
    assert event == "the instant of 'release' was not found"
    assert SPANISH.translate(event) == "no se encontró el instante 'suelta'"


def test_several_messages_in_a_row_are_said_one_by_one():
    row = in_a_row(message("check.better_light"), "", message("check.hold_sideways"))
    assert row == "Film in better light. Hold the phone sideways."
    assert SPANISH.translate(row) == "Graba con mejor luz. Pon el teléfono en horizontal."
    assert in_a_row("", message("check.better_light")).key == "check.better_light"
    assert in_a_row("", "") == ""


@pytest.mark.parametrize(
    "again", [copy.copy, copy.deepcopy, lambda m: pickle.loads(pickle.dumps(m))]
)
def test_a_message_survives_copying_and_pickling(again):
    said = in_a_row(message("check.rate_hand", speed=15.0, way=0.25), message("film.no_rep"))
    other = again(said)
    assert isinstance(other, Message)
    assert (other, other.key, dict(other.values)) == (said, said.key, dict(said.values))
    assert SPANISH.translate(other) == SPANISH.translate(said)


def test_a_message_is_never_changed():
    said = message("film.undecoded", n=3)
    with pytest.raises(AttributeError, match="never changed"):
        said.key = "film.no_rep"
    with pytest.raises(AttributeError, match="never changed"):
        del said.key
    with pytest.raises(TypeError):
        said.values["n"] = 4


def test_a_text_that_is_not_there_is_a_mistake_in_the_program():
    with pytest.raises(KeyError):
        message("reasons.no_such_reason")
    with pytest.raises(KeyError):
        message("film.undecoded")


@pytest.mark.parametrize(
    "text",
    [
        message("reasons.no_event", event="events.plant"),
        message("camera.moved", far=message("camera.far", moved=30.4), why=""),
        message("check.measures", keys=("step_back_m", "cushion_m")),
        in_a_row(message("scene.without_ground"), message("reasons.no_goal"), "and more"),
        "by the coach",
    ],
)
def test_a_text_is_the_same_after_json(text):
    again = message_of(json.loads(json.dumps(message_document(text))))
    assert again == text
    assert SPANISH.translate(again) == SPANISH.translate(text)
    assert getattr(again, "key", None) == getattr(text, "key", None)


def test_a_number_that_json_cannot_hold_leaves_the_sentence():
    text = message("camera.far", moved=float("nan"))
    assert message_document(text) == {"text": str(text)}


@pytest.mark.parametrize(
    "document",
    [
        {"key": "reasons.no_such_thing", "values": {}},
        {"key": "elsewhere.no_such_thing", "values": {"n": 1}},
        {"key": "camera.no_such_thing", "values": {"why": {"text": "so"}}},
    ],
)
def test_a_key_that_is_not_in_the_catalogue_any_more_is_shown_as_a_name(document):
    assert message_of(document) == "no such thing"


def test_a_key_that_has_other_braces_now_is_shown_as_a_name():
    assert message_of({"key": "camera.far", "values": {"by": 3}}) == "far"
