"""Target ranges in words: made of their bounds as a coach wrote them, and read again from a log."""

from __future__ import annotations

import re
import string

from pipeline.message import Message, message, shipped


def bound_words(value: float, unit: str) -> Message:
    """Say one bound, e.g. ``0.94 of stature``; its unit by the name in ``[written_bound]``."""
    return message(f"written_bound.{unit}", value=value)


def range_words(low: Message | None, high: Message | None) -> Message:
    """Say a range by what `bound_words` says of its bounds, None being open."""
    if low is None or high is None:
        if low is not None:
            return message("written_range.at_least", low=low)
        return (
            message("written_range.at_most", high=high) if high else message("written_range.none")
        )
    if low == high:
        return message("written_range.exactly", low=low)
    if low.key == high.key:  # the unit is said once
        low = bound_words(low.values["value"], "number")
    return message("written_range.between", low=low, high=high)


def read_again(text: str) -> str:
    """Find the message of a range that was kept as English text.

    Parameters
    ----------
    text
        As from `range_words`.

    Returns
    -------
    str
        The `Message`; the text itself if it is none of a range, as one that was cut short.

    Examples
    --------
    >>> read_again("0.94 to 1.2 of stature").key
    'written_range.between'
    """
    for name, template in shipped().table["written_range"].items():
        found = _put_in(template, text)
        bounds = {side: _bound(said) for side, said in (found or {}).items()}
        if found is not None and None not in bounds.values():
            return message(f"written_range.{name}", **bounds)
    return text


def _bound(text: str) -> Message | None:
    for unit, template in shipped().table["written_bound"].items():
        found = _put_in(template, text)
        try:
            if found is not None:
                return bound_words(float(found["value"]), unit)
        except ValueError:  # a longer text that ends alike
            continue
    return None


def _put_in(template: str, text: str) -> dict[str, str] | None:
    """Give what stands in the braces of a template in a text; None if that is not made of it."""
    parts = string.Formatter().parse(template)
    pattern = "".join(
        re.escape(literal) + (f"(?P<{name}>.+)" if name else "") for literal, name, _, _ in parts
    )
    found = re.fullmatch(pattern, text)
    return None if found is None else found.groupdict()
