"""Every text in every language: the same entries, the same things put in, nothing left behind."""

import re
import string

import pytest

from pipeline.core.catalogue import ENGLISH, LANGUAGES, OF_NO_LANGUAGE, shipped_path, shipped_texts
from pipeline.core.messages import shipped
from pipeline.core.toml_file import read_toml

OTHERS = [language for language in LANGUAGES if language != ENGLISH]


def entries(node, *place):
    """Texts of a catalogue by their place."""
    if isinstance(node, dict):
        found = {}
        for name, below in node.items():
            found |= entries(below, *place, name)
        return found
    return {place: node}


def texts(language):
    """Texts of a language, without what is of none."""
    table = shipped_texts(language)
    return entries({name: part for name, part in table.items() if name not in OF_NO_LANGUAGE})


def put_in(text):
    """What is put into a text, and how numbers are written in it."""
    parts = string.Formatter().parse(text)
    return {(name[:1].lower() + name[1:], spec) for _, name, spec, _ in parts if name}


@pytest.mark.parametrize("language", OTHERS)
def test_every_language_says_all_that_english_says_and_nothing_else(language):
    assert texts(language).keys() == texts(ENGLISH).keys()
    assert not set(OF_NO_LANGUAGE) & set(shipped_texts(language))


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_text_stands_in_two_files(language):
    first = {}
    beside = (shipped_path(language).parent / "texts").glob(f"*.{language}.toml")
    for path in (shipped_path(language), *sorted(beside)):
        for place in entries(read_toml(path).table):
            assert first.setdefault(place, path.name) == path.name, place


@pytest.mark.parametrize("language", OTHERS)
def test_the_same_is_put_into_each_text(language):
    english = texts(ENGLISH)
    differ = [
        place for place, text in texts(language).items() if put_in(text) != put_in(english[place])
    ]
    assert differ == []


@pytest.mark.parametrize("language", OTHERS)
def test_sentences_are_translated_and_end_alike(language):
    english = texts(ENGLISH)
    for place, text in texts(language).items():
        assert text.strip() == text or text[0] in ",;", place
        own = "".join(literal for literal, *_ in string.Formatter().parse(english[place]))
        if len(re.findall(r"[A-Za-z]{3,}", own)) > 3:
            assert text != english[place], place
        if len(own) > 1:
            assert text.endswith(".") == english[place].endswith("."), place


@pytest.mark.parametrize("language", OTHERS)
def test_a_text_is_about_as_long_in_every_language(language):
    english = texts(ENGLISH)
    for place, text in texts(language).items():
        assert len(text) <= 1.6 * len(english[place]) + 14, place


@pytest.mark.parametrize("language", LANGUAGES)
def test_numbers_are_written_as_in_the_language(language):
    said = shipped(language).text("check.sharp", spread=1.25, share=0.0125)
    mark = {"en": ".", "es": ","}[language]
    assert f"1{mark}2 " in said
    assert {"en": "1.2%", "es": "1,2 %"}[language] in said
