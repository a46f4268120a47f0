"""Texts made deep inside the program: English strings that can be translated later."""

from __future__ import annotations

import math
import string
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from numbers import Integral, Real
from types import MappingProxyType
from typing import Any, NoReturn

from pipeline.core.catalogue import ENGLISH, METRIC, Language, Units, shipped_texts
from pipeline.core.number_format import NumberFormat

_DECIMALS: Mapping[str, int] = {
    "m": 2, "cm": 0, "s": 2, "ms": 0, "deg": 0, "mps": 1, "dps": 0, "px": 0,
}  # fmt: skip
"""Decimals of each unit in a text, unless the text sets others."""


class Message(str):
    """A text of the catalogue with what is put into it.

    It is the English text in metric units, and is that wherever a string is wanted.
    `Texts.translate` gives it in another language. Made by `message`; never changed.

    Attributes
    ----------
    key
        Section and name in the catalogue, such as ``reasons.no_defender``; empty for several
        messages in a row.
    values
        What stands in its braces: numbers in SI units, texts, other messages.
    """

    __slots__ = ("key", "values")

    key: str
    values: Mapping[str, Any]

    def __new__(cls, text: str, key: str, values: Mapping[str, Any]) -> Message:
        """Make one from its English text; `message` finds that by the key."""
        made = super().__new__(cls, text)
        object.__setattr__(made, "key", key)
        object.__setattr__(made, "values", MappingProxyType(dict(values)))
        return made

    def __setattr__(self, name: str, value: object) -> NoReturn:
        raise AttributeError(f"a message is never changed: {name}")

    def __delattr__(self, name: str) -> NoReturn:
        raise AttributeError(f"a message is never changed: {name}")

    def __reduce__(self) -> tuple[Callable[..., Message], tuple[str, str, dict[str, Any]]]:
        return Message, (str(self), self.key, dict(self.values))

    def __deepcopy__(self, memo: dict[int, Any]) -> Message:
        return self


@dataclass(frozen=True, slots=True)
class Texts:
    """A catalogue, and how numbers are written with it.

    Attributes
    ----------
    table
        Texts by section and name.
    figures
        How numbers are written.
    """

    table: Mapping[str, Any]
    figures: NumberFormat

    def text(self, key: str, **values: object) -> str:
        """Say a text of the catalogue with what is put into its braces.

        In the catalogue, ``{name}`` is a text, a whole number or another message; ``{Name}`` the
        same with its first letter raised; ``{name:m}`` a length in metres with its unit, to two
        decimals, ``{name:m.1}`` to one, ``{name:m^}`` rounded up, and so for the other units;
        ``{name:.1}`` a number to one decimal; ``{name:g}`` one as short as it is; ``{name:%}`` a
        share; ``{name:titles}`` titles of
        measures; ``{name:move}`` the name of a move; ``{name:look}`` a count of what stands under
        that name in ``[plurals]``.
        """
        return self._filled(self._template(key), values)

    def translate(self, text: str) -> str:
        """Say a message in this language; a plain text stays as it is."""
        if not isinstance(text, Message):
            return text
        if not text.key:
            return " ".join(self.translate(part) for part in text.values["parts"])
        return self._filled(self._template(text.key), text.values)

    def named(self, section: str, name: str) -> str:
        """Give a name from a section; without an entry, the name itself with spaces."""
        return str(self.table.get(section, {}).get(name, name.replace("_", " ")))

    def titles(self, keys: tuple[str, ...]) -> str:
        """Titles of measures in a row, inside a sentence."""
        titles = (self.title(key) for key in keys)
        return ", ".join(title[:1].lower() + title[1:] for title in titles)

    def title(self, key: str) -> str:
        """Title of a measure, as a row heading; its key with spaces if it has none."""
        return str(self.table["measure"].get(key, {}).get("title", key.replace("_", " ")))

    def move(self, key: str) -> str:
        """Name of a move; its key with spaces if it has none, as a taught drill."""
        return str(self.table["moves"].get(key, {}).get("name", key.replace("_", " ")))

    def of_section(self, place: str) -> str:
        """Name of something by section and name, such as ``events.plant``."""
        section, _, name = place.partition(".")
        return self.named(section, name)

    def short(self, value: float) -> str:
        """Write a number with no more decimals than it has, as ``0.4`` or ``1``."""
        return f"{value:g}".replace(".", self.figures.decimal)

    def counted(self, n: int, of: str) -> str:
        """Say how many there are of something, such as ``1 look`` or ``6 looks``."""
        forms = self.table["plurals"][of]
        return str(forms["one" if n == 1 else "many"]).format(n=n)

    def _template(self, key: str) -> str:
        found: Any = self.table
        for name in key.split("."):
            found = found[name]
        return str(found)

    def _filled(self, template: str, values: Mapping[str, Any]) -> str:
        parts = []
        for literal, name, spec, _ in string.Formatter().parse(template):
            parts.append(literal)
            if name is None:
                continue
            if name in values:
                parts.append(self._shown(values[name], spec or ""))
            else:
                shown = self._shown(values[name[:1].lower() + name[1:]], spec or "")
                parts.append(shown[:1].upper() + shown[1:])
        return "".join(parts)

    def _shown(self, value: Any, spec: str) -> str:  # noqa: ANN401 - whatever a text holds
        if not spec:
            return self.translate(value) if isinstance(value, str) else str(value)
        if spec in _NAMES:
            return _NAMES[spec](self, value)
        unit, point, decimals = spec.rstrip("^").partition(".")
        if unit in _DECIMALS:
            n_decimals = int(decimals) if point else _DECIMALS[unit]
            return self.figures.quantity(value, unit, n_decimals, up=spec.endswith("^"))
        if unit == "%":
            return self.figures.share(value, int(decimals or 0))
        return self.counted(value, unit) if unit else self.figures.number(value, int(decimals))


_NAMES: Mapping[str, Callable[[Texts, Any], str]] = {
    "titles": Texts.titles,
    "move": Texts.move,
    "name": Texts.of_section,
    "g": Texts.short,
}
"""What stands after a colon by itself and is no unit."""


def texts_of(table: Mapping[str, Any], units: Units = METRIC) -> Texts:
    """Make the texts of a catalogue for people who read in these units."""
    numbers = table["numbers"]
    figures = NumberFormat(table["units"], numbers["decimal"], numbers["percent"], units)
    return Texts(table, figures)


@lru_cache(maxsize=4)
def shipped(language: Language = ENGLISH, units: Units = METRIC) -> Texts:
    """Texts as shipped."""
    return texts_of(shipped_texts(language), units)


def message(key: str, **values: object) -> Message:
    """Make a message of the catalogue.

    Parameters
    ----------
    key
        Section and name, such as ``reasons.no_defender``.
    values
        What stands in its braces; numbers in SI units.

    Examples
    --------
    >>> message("reasons.no_defender")
    'no defender was seen in this rep'
    """
    return Message(shipped().text(key, **values), key, values)


def message_document(text: str) -> dict[str, Any]:
    """Give a text as plain values for JSON: a message by its key and values, never its sentence.

    Parameters
    ----------
    text
        A `Message`, or a text that is not of the catalogue.

    Returns
    -------
    dict
        ``key`` and ``values``, in which messages are such tables again; or ``text`` alone for what
        has no key, or holds a number that JSON cannot hold.

    Examples
    --------
    >>> message_document(message("reasons.no_event", event="events.plant"))
    {'key': 'reasons.no_event', 'values': {'event': 'events.plant'}}
    >>> message_document("the ball was lost")
    {'text': 'the ball was lost'}
    """
    if isinstance(text, Message):
        try:
            values = {name: _plain_value(value) for name, value in text.values.items()}
        except ValueError:
            return {"text": str(text)}
        return {"key": text.key, "values": values}
    return {"text": text}


def message_of(document: Mapping[str, Any]) -> str:
    """Make the text of a table that `message_document` gave.

    A key that the catalogue no longer has, or has with other braces, is shown as a name with
    spaces: its sentence is not known any more.

    Examples
    --------
    >>> message_of({"key": "reasons.no_event", "values": {"event": "events.plant"}})
    "the instant of 'plant' was not found"
    """
    if "key" not in document:
        return str(document["text"])
    key = str(document["key"])
    values: dict[str, Any] = {name: _value_of(plain) for name, plain in document["values"].items()}
    if not key:
        return in_a_row(*values["parts"])
    try:
        return message(key, **values)
    except (KeyError, ValueError, TypeError):
        return key.rpartition(".")[2].replace("_", " ")


def _plain_value(value: object) -> Any:  # noqa: ANN401 - whatever a text holds
    if isinstance(value, Message):
        return message_document(value)
    if isinstance(value, (tuple, list)):
        return [_plain_value(part) for part in value]
    if isinstance(value, Integral):
        return int(value)
    if isinstance(value, Real):
        if not math.isfinite(value):
            raise ValueError("no finite number")
        return float(value)
    return str(value)


def _value_of(plain: object) -> object:
    if isinstance(plain, Mapping):
        return message_of(plain)
    return tuple(map(_value_of, plain)) if isinstance(plain, list) else plain


def in_a_row(*parts: str) -> str:
    """Put several texts one after the other; those that are empty are left out."""
    present = tuple(part for part in parts if part)
    if len(present) < 2:
        return present[0] if present else ""
    return Message(" ".join(present), "", {"parts": present})
