"""Convert the English texts of reasons and ranges into keys with values and into bounds.

The texts are copied here because the catalogue may change, but the texts in old logs do not.
"""

import json
import re
import string
from collections.abc import Callable, Mapping
from functools import cache
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"

Document = dict[str, Any]

REASONS: Mapping[str, str] = {
    "reasons.no_goal": "no goal was marked",
    "reasons.no_stick_hand": "it could not be told which hand is on top of the stick",
    "reasons.no_event": "the instant of '{event:name}' was not found",
    "reasons.no_dodge_start": "the step that starts the dodge could not be told",
    "reasons.no_hands_switched": "the hands were not seen to change places on the stick",
    "reasons.no_roll_end": "the body was not seen to turn far enough for a roll",
    "reasons.no_slowest": "the run was not seen to slow down and go on",
    "reasons.no_plant": "the foot that planted was not seen to land",
    "reasons.no_joints": "the joints were not seen well enough",
    "reasons.no_player": "the player was not seen well enough",
    "reasons.before_goal": "the player was in front of the middle of the goal",
    "reasons.not_finite": "the computation gave no finite number",
    "reasons.no_standing_feet": "the feet were not seen standing, so heights could not be told",
    "reasons.no_ground": "the ground could not be found in this film",
    "reasons.no_ground_below": "the ground under the athlete's feet was not found",
    "reasons.no_planting_foot": "it could not be told which foot planted",
    "reasons.hardly_moved": "the player hardly moved before or after the cut",
    "reasons.no_way_of_cut": "the film does not show the way into the cut and out of it",
    "reasons.no_run_aside": "there was no run to step aside from",
    "reasons.jab_along_view": "the jab step went towards the camera or away from it",
    "reasons.hips_hidden_in_roll": "the hips were hidden during the roll",
    "reasons.no_pivot_stand": "the pivot foot was not seen to stand for long enough",
    "reasons.no_run_up_to_hitch": "there was no run-up before the hesitation",
    "reasons.no_defender": "no defender was seen in this rep",
    "reasons.no_run_up_to_cut": "there was no run-up before the cut",
    "reasons.no_speed_again": "the player was not seen to gather speed again",
    "reasons.no_whole_dodge": "the film does not show the whole dodge",
    "reasons.player_lost_in_dodge": "the player was not seen during the whole dodge",
    "reasons.no_sides_of_cut": "the film does not show {time:s.1} on both sides of the cut",
    "reasons.leg_hidden": "the leg that planted was hidden",
    "reasons.hips_hidden_at_plant": "the hips were hidden at the plant",
    "reasons.cut_from_side": "the camera did not see the cut from the front or from behind",
    "reasons.player_lost_in_run_in": "the player was not seen during the run-in",
    "reasons.no_run_in": "there was no run-in to step back from",
    "reasons.no_foot_place": "the place of a foot that landed could not be told",
    "reasons.no_landing": "the feet were not seen to land between plant and release",
    "reasons.no_pivot_foot": "the pivot foot was not seen standing",
    "reasons.hips_hardly_turned": "the hips hardly turned into the throw",
    "reasons.trunk_hardly_turned": "the trunk hardly turned into the throw",
    "reasons.few_frames": "too few frames about the release",
    "reasons.hand_hidden_before": "the top hand was hidden before the release",
    "reasons.hand_behind_body": "the top hand was hidden behind the body while it was highest",
    "reasons.hand_hidden_high": "the top hand was mostly hidden while it was highest",
    "reasons.hand_hidden_low": "the top hand was hidden while it was lowest",
    "camera.still": "the camera stood still",
    "camera.not_told": (
        "too little of the background can be made out to tell whether the camera moved"
    ),
    "camera.steadied": (
        "the camera was held in the hand; the picture was steadied by its background "
        "(moved by {far})"
    ),
    "camera.moved": "the camera moved while filming (by {far}){why}",
    "camera.far": "up to {moved:.0} pixels",
    "camera.too_far": "more than could be followed",
    "camera.and_why": ", and {why}",
    "camera.out_of_sight": "its background went out of sight",
    "camera.not_followed": "its background could not be followed all the time",
    "camera.turned_far": "it turned too far from where it pointed at first",
    "camera.carried": "it was carried along",
}
"""English texts by key. A brace holds a name of `EVENTS`, seconds, an integer, or another text,
which may be one of these."""

EVENTS: Mapping[str, str] = {
    "start": "start",
    "dodge_start": "dodge start",
    "plant": "plant",
    "hands_high": "hands high",
    "hands_low": "hands low",
    "hands_switched": "hands switched",
    "roll_end": "roll end",
    "slowest": "slowest",
    "last_contact": "last contact",
    "release": "release",
    "finish": "finish",
}

RANGES: Mapping[str, str] = {
    "between": "{low} to {high}",
    "exactly": "exactly {low}",
    "at_least": "at least {low}",
    "at_most": "at most {high}",
    "none": "no range",
}

BOUNDS: Mapping[str, str] = {
    "m": "{value:g} m",
    "s": "{value:g} s",
    "deg": "{value:g} deg",
    "mps": "{value:g} m/s",
    "dps": "{value:g} deg/s",
    "number": "{value:g}",
    "of_stature": "{value:g} of stature",
    "of_arm": "{value:g} of arm length",
    "of_defenders_arm": "{value:g} of the defender's arm",
}

NUMBER = r"-?\d+(?:\.\d+)?(?:e[-+]\d+)?"
PATTERNS: Mapping[str, str] = {
    "": ".*?",
    "name": ".*?",
    "s.1": f"{NUMBER} s",
    ".0": NUMBER,
    "g": NUMBER,
}
"""Regular expression of a brace's content by its format specification."""


def upgrade() -> None:
    """Convert the texts of both columns into JSON, each distinct text once."""
    connection = op.get_bind()
    op.add_column("measures", sa.Column("target_range", sa.Text))
    _change(connection, "reason", "reason", reason_document)
    _change(connection, "range_words", "target_range", range_document)
    with op.batch_alter_table("measures") as table:
        table.drop_column("range_words")


def reason_document(text: str) -> Document:
    """Return key and values of a reason, or its text if it is not in `REASONS`."""
    for key, template in REASONS.items():
        found = re.fullmatch(_pattern(template), text)
        if found is None:
            continue
        specs = _specs(template)
        values = {name: _value(specs[name], part) for name, part in found.groupdict().items()}
        document = {"key": key, "values": values}
        if _text_of(document) == text:  # a number or a name that was read wrongly would show here
            return document
    return {"text": text}


def range_document(text: str) -> Document:
    """Return both bounds of a range, or its text if it has another form."""
    for name, template in RANGES.items():
        found = re.fullmatch(_pattern(template), text)
        if found is None:
            continue
        bounds = {side: _bound(part) for side, part in found.groupdict().items()}
        if None in bounds.values():
            continue
        low, high = bounds.get("low"), bounds.get("high")
        if name == "exactly":
            high = low
        if low and high and low["unit"] == "number":  # the unit stood behind the second alone
            low = {**low, "unit": high["unit"]}
        return {"low": low, "high": high}
    return {"text": text}


def _change(
    connection: sa.Connection, source: str, target: str, document_of: Callable[[str], Document]
) -> None:
    """Fill a column from the texts of another, by a temporary table of old and new values."""
    found = connection.exec_driver_sql(f"SELECT DISTINCT {source} FROM measures").scalars()
    rows = [
        {"old": text, "new": json.dumps(document_of(text), ensure_ascii=False, sort_keys=True)}
        for text in found
        if text is not None
    ]
    if not rows:
        return
    changed = sa.Table(
        "changed_texts",
        sa.MetaData(),
        sa.Column("old", sa.Text),
        sa.Column("new", sa.Text),
        prefixes=["TEMPORARY"],
    )
    changed.create(connection)
    connection.execute(changed.insert(), rows)
    connection.exec_driver_sql(
        f"UPDATE measures SET {target} = changed_texts.new FROM changed_texts"
        f" WHERE measures.{source} = changed_texts.old"
    )
    changed.drop(connection)


def _bound(text: str) -> Document | None:
    for unit, template in BOUNDS.items():
        found = re.fullmatch(_pattern(template), text)
        if found is not None:
            return {"value": float(found["value"]), "unit": unit}
    return None


@cache
def _pattern(template: str) -> str:
    return "".join(
        re.escape(literal) + (f"(?P<{name}>{PATTERNS[spec or '']})" if name else "")
        for literal, name, spec, _ in string.Formatter().parse(template)
    )


@cache
def _specs(template: str) -> Mapping[str, str]:
    """Return the format specification of each brace by its name."""
    return {name: spec or "" for _, name, spec, _ in string.Formatter().parse(template) if name}


def _value(spec: str, part: str) -> object:
    """Return the value of a brace: a number, the key of a name, or another text."""
    if spec == "name":
        return f"events.{next((name for name, text in EVENTS.items() if text == part), part)}"
    if spec:
        return float(part.removesuffix(" s"))
    document = reason_document(part)
    return document if "key" in document else part


def _text_of(document: Document) -> str:
    """Format a document as its English text."""
    template = REASONS[document["key"]]
    text = ""
    for literal, name, spec, _ in string.Formatter().parse(template):
        text += literal + (_shown(spec or "", document["values"][name]) if name else "")
    return text


def _shown(spec: str, value: object) -> str:
    if isinstance(value, dict):
        return _text_of(value)
    if isinstance(value, float):
        return f"{value:.1f} s" if spec == "s.1" else f"{value:.0f}"
    name = str(value).removeprefix("events.") if spec == "name" else str(value)
    return EVENTS.get(name, name.replace("_", " ")) if spec == "name" else name
