"""Tables of results, independent of the file format: columns with units, None for missing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from pipeline import __version__
from pipeline.core.results import Analysis, RepResult, Verdict
from pipeline.core.types import JOINTS, LANDMARKS, FloatArray
from pipeline.export.film_data import PEOPLE, FilmData

ColumnKind = Literal["text", "word", "whole", "number", "single", "frames"]
"""Type of a column: free text, category, integer, double, single precision, list of frames."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table.

    Attributes
    ----------
    kind
        Type of the values.
    values
        One per row: a list with None, or an array with NaN, for missing values.
    unit
        Symbol of the unit; empty without a unit.
    meaning
        Short description.
    """

    kind: ColumnKind
    values: list[Any] | npt.NDArray[Any]
    unit: str
    meaning: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Columns of equal length by name, and metadata of the table."""

    columns: Mapping[str, Column]
    about: Mapping[str, str]


def reps_table(analysis: Analysis) -> Table:
    """Build the table of reps: one row per rep, with its events."""
    results = analysis.reps
    columns = {
        **_rep_columns(analysis, results),
        "start_frame": Column("whole", [r.rep.start_frame for r in results], "", "first frame"),
        "stop_frame": Column("whole", [r.rep.stop_frame for r in results], "", "first frame after"),
        "field_side": Column(
            "word", [r.field_side.side for r in results], "", "natural or other for that hand"
        ),
        "field_side_reason": Column(
            "text", [r.field_side.reason for r in results], "", "why the side is not known"
        ),
    }
    for name in _event_names(analysis):
        events = [result.rep.events.get(name) for result in results]
        columns[f"{name}_u_s"] = Column(
            "number", [None if e is None else e.u_s for e in events], "s", "its u (k = 1)"
        )
        columns[f"{name}_frame"] = Column(
            "whole", [None if e is None else e.frame for e in events], "", "nearest frame"
        )
    return Table(columns=columns, about={**_about(analysis), "rows": "one per rep"})


def measures_table(analysis: Analysis) -> Table:
    """Build the table of measures: one row per rep and measure, with value or reason."""
    rows = [(result, found) for result in analysis.reps for found in result.measurements.values()]
    found = [measurement for _, measurement in rows]
    verdicts = [_verdict_on(result, measurement.key) for result, measurement in rows]
    targets = [None if verdict is None else verdict.target for verdict in verdicts]
    frames = [list(measurement.frames) for measurement in found]
    intervals = [measurement.interval95 or (None, None) for measurement in found]
    columns = {
        **_rep_columns(analysis, [result for result, _ in rows]),
        "measure": Column("word", [m.key for m in found], "", "key of the measure"),
        "value": Column("number", [m.value for m in found], "see unit", "best estimate"),
        "u": Column("number", [m.u for m in found], "see unit", "standard uncertainty, k = 1"),
        "low95": Column(
            "number", [low for low, _ in intervals], "see unit", "lower end of the 95 % interval"
        ),
        "high95": Column(
            "number", [high for _, high in intervals], "see unit", "upper end of the 95 % interval"
        ),
        "unit": Column("word", [m.unit for m in found], "", "1 for a ratio or a count"),
        "frames": Column("frames", frames, "", "frames it was read from"),
        "reason": Column("text", [m.reason for m in found], "", "why it was not measured"),
        "verdict": Column("word", _of(verdicts, "word"), "", "against the range of the coach"),
        "verdict_side": Column("word", _of(verdicts, "side"), "", "low or high, if out of range"),
        "probability_inside": Column(
            "number", _of(verdicts, "probability_inside"), "1", "that the true value is in range"
        ),
        "target_low": Column("number", _of(targets, "low"), "see unit", "None = open"),
        "target_high": Column("number", _of(targets, "high"), "see unit", "None = open"),
        "target": Column("text", _of(targets, "words"), "", "the range as it was written"),
    }
    return Table(columns=columns, about={**_about(analysis), "rows": "one per rep and measure"})


def keypoints_table(film: FilmData) -> Table:
    """Build the table of raw landmarks: one row per person, frame and landmark, in pixels."""
    tracks, clip = film.tracks, film.analysis.clip
    columns = {
        **_moment_columns(clip.time_s, tracks.n_people, "landmark", LANDMARKS),
        "x_px": _single(tracks.image_px[..., 0], "px", "to the right from the left edge"),
        "y_px": _single(tracks.image_px[..., 1], "px", "down from the top edge"),
        "visibility": _single(tracks.visibility, "1", "the model's own, 0 to 1"),
    }
    about = {
        **_about(film.analysis),
        "rows": "one per person, frame and landmark; null where the person was not found",
        "frame_of_reference": "upright picture of the film, not smoothed, lens as it is",
        "width_px": str(clip.width_px),
        "height_px": str(clip.height_px),
    }
    return Table(columns=columns, about=about)


def joints_table(film: FilmData) -> Table:
    """Build the table of joints: one row per person, frame and joint, metres, field frame."""
    paths = film.paths
    columns = _moment_columns(paths.time_s, paths.joints_m.shape[0], "joint", JOINTS)
    for axis, name in enumerate("xyz"):
        columns[f"{name}_m"] = _single(paths.joints_m[..., axis], "m", "best estimate")
    for axis, name in enumerate("xyz"):
        columns[f"u_{name}_m"] = _single(paths.u_m[..., axis], "m", "standard uncertainty, k = 1")
    about = {
        **_about(film.analysis),
        "rows": "one per person, frame and joint; null where it is not known",
        **field_frame(film.analysis),
    }
    return Table(columns=columns, about=about)


def field_frame(analysis: Analysis) -> dict[str, str]:
    """Describe the axes of the field frame and the grade of the scale."""
    scene = analysis.scene
    if scene.grade == "C":
        frame = "z up from the own standing foot; x to the camera's right, y away from the camera; "
        frame += "no ground: places along x and y are by the size of the body alone"
    else:
        frame = "z up from the ground; x to the camera's right, y away from the camera; "
        frame += "origin on the ground below the camera"
    return {
        "frame_of_reference": frame,
        "scale_grade": scene.grade,
        "scale_notes": " ".join(scene.notes),
    }


def _about(analysis: Analysis) -> dict[str, str]:
    clip = analysis.clip
    return {
        "program": f"crossemetry {__version__}",
        "clip": clip.path.name,
        "clip_digest": clip.digest,
        "stature_m": f"{analysis.stature_m:g}",
        "time": "seconds from the first frame, by the film's own time stamps",
        "missing": "null",
    }


def _rep_columns(
    analysis: Analysis, results: tuple[RepResult, ...] | list[RepResult]
) -> dict[str, Column]:
    """Return the columns that identify a rep: both tables have them, so they can be joined."""
    reps = [result.rep for result in results]
    clip = analysis.clip
    columns = {
        "clip": Column("word", [clip.path.name] * len(reps), "", "name of the film"),
        "clip_digest": Column("word", [clip.digest] * len(reps), "", "SHA-256 of the film"),
        "athlete": Column("word", [analysis.athlete] * len(reps), "", "as it was written"),
        "rep": Column("whole", [rep.index for rep in reps], "", "number of the rep, from 1"),
        "move": Column("word", [rep.move for rep in reps], "", "key of the move"),
        "move_probability": Column(
            "number", [rep.move_probability for rep in reps], "1", "1 if set by the user"
        ),
        "move_by": Column("word", [rep.move_by for rep in reps], "", "told or found"),
        "stick_hand": Column("word", [rep.stick_hand for rep in reps], "", "side of the top hand"),
        "start_s": Column("number", [rep.start_s for rep in reps], "s", "start of the rep"),
        "stop_s": Column("number", [rep.stop_s for rep in reps], "s", "end of the rep"),
    }
    for name in _event_names(analysis):
        times = [rep.events[name].time_s if name in rep.events else None for rep in reps]
        columns[f"{name}_time_s"] = Column("number", times, "s", f"instant of the event {name}")
    return columns


def _moment_columns(
    time_s: FloatArray, n_people: int, of_what: str, names: tuple[str, ...]
) -> dict[str, Column]:
    shape = (n_people, time_s.size, len(names))
    frame = np.broadcast_to(np.arange(time_s.size, dtype=np.int32)[:, None], shape).ravel()
    people = [PEOPLE[person] for person in range(n_people)]
    each_person = time_s.size * len(names)
    return {
        "person": Column("word", [p for p in people for _ in range(each_person)], "", "who"),
        "frame": Column("whole", frame, "", "index of the decoded frame, from 0"),
        "time_s": Column("number", time_s[frame], "s", "when"),
        of_what: Column("word", list(names) * (n_people * time_s.size), "", "which point"),
    }


def _single(values: FloatArray, unit: str, meaning: str) -> Column:
    return Column("single", values.astype(np.float32).ravel(), unit, meaning)


def _event_names(analysis: Analysis) -> list[str]:
    return list(dict.fromkeys(name for result in analysis.reps for name in result.rep.events))


def _verdict_on(result: RepResult, key: str) -> Verdict | None:
    return next((verdict for verdict in result.verdicts if verdict.key == key), None)


def _of(things: list[Any], name: str) -> list[Any]:
    return [None if thing is None else getattr(thing, name) for thing in things]
