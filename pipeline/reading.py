"""In which language and units somebody reads: as the environment says, else English and metric."""

from __future__ import annotations

import os
from typing import NamedTuple

from pipeline.catalogue import ENGLISH, LANGUAGES, METRIC, UNITS, Language, Units
from pipeline.errors import SettingsError
from pipeline.toml_file import nearest

LANGUAGE_VARIABLE = "CROSSEMETRY_LANGUAGE"
UNITS_VARIABLE = "CROSSEMETRY_UNITS"


class Reading(NamedTuple):
    """Language and units to read in."""

    language: Language = ENGLISH
    units: Units = METRIC


USUAL_READING = Reading()
"""English and metric."""


def environment_language() -> Language:
    """Language that the environment asks for; raises `SettingsError` for one that is not there."""
    named = os.environ.get(LANGUAGE_VARIABLE)
    return check_language(named, named=LANGUAGE_VARIABLE) if named else ENGLISH


def environment_units() -> Units:
    """Units that the environment asks for; raises `SettingsError` for others than there are."""
    named = os.environ.get(UNITS_VARIABLE)
    return check_units(named, named=UNITS_VARIABLE) if named else METRIC


def environment_reading() -> Reading:
    """Language and units that the environment asks for, or raise `SettingsError`."""
    return Reading(environment_language(), environment_units())


def check_language(value: str, *, named: str) -> Language:
    """Return a language there are texts in, or raise `SettingsError` with those there are."""
    if value in LANGUAGES:
        return value
    raise SettingsError(
        f"{named}: there are no texts in '{value}'.", what_to_do=nearest(value, LANGUAGES)
    )


def check_units(value: str, *, named: str) -> Units:
    """Return units to read in, or raise `SettingsError` with those there are."""
    if value in UNITS:
        return value
    raise SettingsError(
        f"{named}: '{value}' is not a way to give lengths.", what_to_do=nearest(value, UNITS)
    )
