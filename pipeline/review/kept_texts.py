"""Finds the message behind a reason that the log keeps in English, to say it in any language."""

from __future__ import annotations

import re
import string
from collections.abc import Mapping
from functools import lru_cache

from pipeline.catalogue import ENGLISH, shipped_texts
from pipeline.message import Message, message

SECTIONS = ("reasons", "camera")
"""Of which reasons are made: those of a measure, and what the camera did."""

_NUMBER = r"-?\d+(?:\.\d+)?"


@lru_cache(maxsize=512)
def message_again(text: str) -> str:
    """Give the message that reads so in English; the text itself where there is none.

    Numbers are known as exactly as they were written.

    Parameters
    ----------
    text
        A reason as the log keeps it.

    Examples
    --------
    >>> message_again("the instant of 'release' was not found").values["event"]
    'events.release'
    """
    if isinstance(text, Message):
        return text
    for key, pattern in _patterns().items():
        found = pattern.fullmatch(text)
        if found is None:
            continue
        given = {name: _value(key, name, said) for name, said in found.groupdict().items()}
        made = message(key, **given)
        if made == text:  # a number or a name that was read wrongly would show here
            return made
    return text


@lru_cache(maxsize=1)
def _patterns() -> Mapping[str, re.Pattern[str]]:
    """Make what each message of `SECTIONS` looks like, but for those that only pass one on."""
    english = shipped_texts(ENGLISH)
    found = {}
    for section in SECTIONS:
        for name, template in english[section].items():
            parts = list(string.Formatter().parse(template))
            if any(literal for literal, *_ in parts):
                found[f"{section}.{name}"] = re.compile("".join(map(_pattern, parts)))
    return found


def _pattern(part: tuple[str, str | None, str | None, str | None]) -> str:
    literal, name, spec, _ = part
    said = re.escape(literal)
    if name is None:
        return said
    unit = (spec or "").partition(".")[0]
    if not spec or unit == "name":
        return f"{said}(?P<{name}>.*?)"
    after = f" {re.escape(shipped_texts(ENGLISH)['units'][unit])}" if unit else ""
    return f"{said}(?P<{name}>{_NUMBER}){after}"


def _value(key: str, name: str, said: str) -> object:
    """Give what stood in a brace: a number, the place of a name, or another text."""
    section, _, entry = key.partition(".")
    template = shipped_texts(ENGLISH)[section][entry]
    spec = next(spec for _, brace, spec, _ in string.Formatter().parse(template) if brace == name)
    if spec == "name":
        events = shipped_texts(ENGLISH)["events"]
        return f"events.{next((event for event in events if events[event] == said), said)}"
    if spec:
        return float(said)
    return message_again(said)
