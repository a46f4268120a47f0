"""Drills on the disk: one file each in the program's own folder, numbers and plain text only.

A file holds how joints moved, never a picture and never the name of a film.
"""

from __future__ import annotations

import io
import json
import math
import zipfile
import zlib
from collections.abc import Mapping
from typing import Any

import numpy as np

from pipeline.core.errors import DrillError, OutputError
from pipeline.core.files import made_folder, write_whole
from pipeline.core.move_table import known_moves
from pipeline.measures import MEASURES
from pipeline.settings.checks import FOLDER, drill_path, existing_drill
from pipeline.teaching.drill_examples import FEWEST_EXAMPLES, Example
from pipeline.teaching.drill_features import COLUMNS
from pipeline.teaching.drills import Drill

FORMAT = 1
"""Raised whenever what a file holds, or what its columns mean, changes."""

DAMAGED = (
    OSError, ValueError, KeyError, TypeError, AttributeError, EOFError, zipfile.BadZipFile,
    zlib.error,
)  # fmt: skip
"""What reading a file that is no whole file of numbers may raise."""


def save_drill(drill: Drill) -> None:
    """Write a drill, whole or not at all; one of the same name is replaced.

    Raises
    ------
    DrillError
        Its name cannot be one of a drill.
    OutputError
        It cannot be written.
    """
    head = {
        "format": FORMAT,
        "columns": list(COLUMNS),
        "name": drill.name,
        "hand": drill.hand,
        "reach": drill.reach,
        "event_u_s": dict(drill.event_u_s),
        "look_by": "" if drill.look is None else drill.look_by,
        "like": drill.like,
        "measures": list(drill.measures),
        "taught_by": drill.taught_by,
        "taught_on": drill.taught_on,
        "examples": [
            {"events": dict(example.events), "digest": example.digest} for example in drill.examples
        ],
    }
    arrays = {
        f"example_{number}": np.asarray(example.values, dtype=np.float32)
        for number, example in enumerate(drill.examples)
    }
    arrays["factors"] = np.asarray(drill.factors, dtype=np.float32)
    if drill.look is not None:
        arrays["look"] = np.asarray(drill.look, dtype=np.float32)
    text = json.dumps(head, ensure_ascii=False, allow_nan=False).encode("utf-8")
    packed = io.BytesIO()
    np.savez_compressed(packed, head=np.frombuffer(text, dtype=np.uint8), **arrays)  # type: ignore[arg-type]
    path = drill_path(drill.name)
    made_folder(FOLDER)
    try:
        write_whole(path, [packed.getvalue()])
    except OSError as error:
        why = error.strerror or str(error)
        raise OutputError.of("drill_not_written", path=str(path), why=why) from error


def load_drill(name: str) -> Drill:
    """Read a drill.

    Parameters
    ----------
    name
        As it was taught, upper and lower case alike.

    Raises
    ------
    DrillError
        No drill has that name, its file is damaged, or another version wrote it.
    """
    name = existing_drill(name)
    path = drill_path(name)
    try:
        with np.load(io.BytesIO(path.read_bytes()), allow_pickle=False) as kept:
            head = json.loads(kept["head"].tobytes().decode("utf-8"))
            if head["format"] == FORMAT:
                return _drill(name, head, kept)
    except DAMAGED as error:
        raise DrillError.of("drill_damaged", path=str(path), name=name) from error
    raise DrillError.of("drill_of_other_version", path=str(path))


def requested_drill(move: str | None) -> Drill | None:
    """Read the drill of that name; None for a built-in move, and where no move was requested.

    Raises
    ------
    DrillError
        As `load_drill`.
    """
    return None if move is None or move in known_moves() else load_drill(move)


def forget_drill(name: str) -> str:
    """Take a drill's file away and return its name as it was taught.

    Raises
    ------
    DrillError
        No drill has that name.
    OutputError
        It cannot be taken away.
    """
    name = existing_drill(name)
    path = drill_path(name)
    try:
        path.unlink()
    except OSError as error:
        why = error.strerror or str(error)
        raise OutputError.of("drill_not_taken_away", path=str(path), why=why) from error
    return name


def _drill(name: str, head: Mapping[str, Any], kept: Mapping[str, Any]) -> Drill:
    """Make a drill of what a file holds; raises `ValueError` for what cannot be meant."""
    if head["columns"] != list(COLUMNS) or len(head["examples"]) < FEWEST_EXAMPLES:
        raise ValueError("other columns, or too few examples")
    if head["hand"] not in ("left", "right", None):
        raise ValueError("no such hand")
    if head["like"] is not None and head["like"] not in known_moves():
        raise ValueError("no such move")
    examples = []
    for number, entry in enumerate(head["examples"]):
        values = np.asarray(kept[f"example_{number}"], dtype=float)
        if values.ndim != 2 or values.shape[1] != len(COLUMNS) or len(values) < 2:
            raise ValueError("an example of another shape")
        if not np.isfinite(values).all():
            raise ValueError("an example that is not finite")
        events = {str(event): _finite(place) for event, place in entry["events"].items()}
        examples.append(Example(values=values, events=events, digest=str(entry["digest"])))
    factors = np.asarray(kept["factors"], dtype=float)
    if factors.shape != (len(COLUMNS),) or not (factors > 0.0).all():
        raise ValueError("factors of another shape")
    look_by = str(head.get("look_by", ""))  # earlier versions kept none
    look = np.asarray(kept["look"], dtype=float) if look_by else None
    if look is not None and (look.ndim != 1 or not np.isfinite(look).all()):
        raise ValueError("a look of another shape")
    return Drill(
        name=name,
        examples=tuple(examples),
        hand=head["hand"],
        factors=factors,
        reach=_finite(head["reach"]),
        event_u_s={str(event): _finite(u_s) for event, u_s in head["event_u_s"].items()},
        look=look,
        look_by=look_by,
        like=head["like"],
        measures=tuple(key for key in map(str, head["measures"]) if key in MEASURES),
        taught_by=str(head["taught_by"]),
        taught_on=str(head["taught_on"]),
    )


def _finite(value: Any) -> float:  # noqa: ANN401 - whatever the file holds
    number = float(value)
    if not math.isfinite(number):
        raise ValueError("not a finite number")
    return number
