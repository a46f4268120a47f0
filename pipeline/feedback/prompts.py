"""Prompts to look in one rep, never a diagnosis: a knee drifting in, a chest over the plant leg."""

from __future__ import annotations

from collections.abc import Mapping

from pipeline.core.results import Measurement
from pipeline.core.session_results import Caution
from pipeline.feedback.words import Words, say_number
from pipeline.measures import MEASURES


def prompts() -> dict[str, str]:
    """Give the key of the measure that each prompt to look rests on, by the prompt's name."""
    return {info.prompt: info.key for info in MEASURES.values() if info.prompt is not None}


def raised_flags(measurements: Mapping[str, Measurement], words: Words) -> dict[str, Measurement]:
    """Say which prompts to look a rep gives.

    A number is a prompt when its best estimate has reached the value from which on a coach wants
    to look (``look_from`` in the file of words), and it is surely on that side at all: the whole
    95 % interval is above zero. A number without an interval prompts nothing.

    Parameters
    ----------
    measurements
        Of one rep, by measure key.
    words
        For the values to look from.

    Returns
    -------
    dict of str to Measurement
        By the name of the prompt, what it rests on.
    """
    raised = {}
    for flag, key in prompts().items():
        measurement = measurements.get(key)
        if measurement is None or measurement.value is None or measurement.interval95 is None:
            continue
        if measurement.value >= words.look_from[key] and measurement.interval95[0] > 0.0:
            raised[flag] = measurement
    return raised


def flag_cautions(
    index: int, measurements: Mapping[str, Measurement], words: Words
) -> tuple[Caution, ...]:
    """Put the prompts of one rep into words.

    Parameters
    ----------
    index
        Of the rep.
    measurements, words
        As for `raised_flags`.

    Returns
    -------
    tuple of Caution
        One for each prompt.
    """
    return tuple(
        Caution(
            key=flag,
            text=words.cautions[f"{flag}_here"].format(number=say_number(words, measurement)),
            reps=(index,),
            numbers={measurement.key: float(measurement.value or 0.0)},
        )
        for flag, measurement in raised_flags(measurements, words).items()
    )
