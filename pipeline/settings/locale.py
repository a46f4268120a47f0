"""Language and units of the reader: from the environment, else English and metric."""

from __future__ import annotations

import os
from typing import NamedTuple

from pipeline.core.catalogue import ENGLISH, LANGUAGES, METRIC, UNITS, Language, Units
from pipeline.core.errors import SettingsError
from pipeline.core.toml_file import nearest

LANGUAGE_VARIABLE = "CROSSEMETRY_LANGUAGE"
UNITS_VARIABLE = "CROSSEMETRY_UNITS"


class Locale(NamedTuple):
    """Language and units to read in."""

    language: Language = ENGLISH
    units: Units = METRIC


USUAL_READING = Locale()
"""English and metric."""


def environment_language() -> Language:
    """Language set in the environment; raises `SettingsError` for an unknown one."""
    named = os.environ.get(LANGUAGE_VARIABLE)
    return check_language(named, named=LANGUAGE_VARIABLE) if named else ENGLISH


def environment_units() -> Units:
    """Units set in the environment; raises `SettingsError` for unknown ones."""
    named = os.environ.get(UNITS_VARIABLE)
    return check_units(named, named=UNITS_VARIABLE) if named else METRIC


def environment_reading() -> Locale:
    """Language and units set in the environment, or raise `SettingsError`."""
    return Locale(environment_language(), environment_units())


def check_language(value: str, *, named: str) -> Language:
    """Return a language there are texts in, or raise `SettingsError` with those there are."""
    if value in LANGUAGES:
        return value
    near = nearest(value, LANGUAGES)
    raise SettingsError.of("no_such_language", named=named, value=value, nearest=near)


def check_units(value: str, *, named: str) -> Units:
    """Return units to read in, or raise `SettingsError` with those there are."""
    if value in UNITS:
        return value
    near = nearest(value, UNITS)
    raise SettingsError.of("no_such_units", named=named, value=value, nearest=near)


def known_reading(language: object = None) -> Locale:
    """Language and units as far as they are known, for telling of an error.

    The error may be that one of them is not there, so nothing is raised.

    Parameters
    ----------
    language
        Language of the command's option; None for the environment's.
    """
    requested = language or os.environ.get(LANGUAGE_VARIABLE)
    units = os.environ.get(UNITS_VARIABLE)
    return Locale(
        next((known for known in LANGUAGES if known == requested), ENGLISH),
        next((known for known in UNITS if known == units), METRIC),
    )
