"""Joints in metres as C3D, the open format of motion laboratories, with the events of the reps."""

from __future__ import annotations

import math
import tempfile
from pathlib import Path
from typing import Any

import numpy as np

from pipeline import __version__
from pipeline.core.errors import OutputError
from pipeline.core.results import Analysis
from pipeline.core.types import JOINTS
from pipeline.export.even_times import even_times_s, on_even_times
from pipeline.export.film_data import PEOPLE, FilmData
from pipeline.export.optional_libraries import needed
from pipeline.export.tables import field_frame

MM_PER_M = 1000.0
MOST_IN_A_PARAMETER = 255
"""Entries that one parameter of a C3D file can hold; more go into LABELS2, TIMES2 and so on."""
MOST_FRAMES = 65_535
"""Frames that the header of a C3D file can count, and all readers understand."""


def c3d_bytes(film: FilmData) -> bytes:
    """Write the joints of everyone as the bytes of a C3D file.

    Parameters
    ----------
    film
        What was found in a film.

    Returns
    -------
    bytes
        Points in mm, field frame, z up, at the film's median rate: C3D knows no time stamps, so
        the joints are read from splines through the film's own times. An unknown point has the
        residual -1. The events of each rep stand in the group EVENT, start and stop with them; its
        number and move in their description.

    Raises
    ------
    OutputError
        The library for it is not installed, or the film has too few or too many frames for C3D.
    """
    ezc3d = needed("ezc3d", extra="c3d")
    clip, paths = film.analysis.clip, film.paths
    rate_hz = clip.frame_rate_hz
    if not math.isfinite(rate_hz):
        raise OutputError.of("too_few_frames_for_c3d", file=clip.path.name)
    even_s = even_times_s(paths.time_s, rate_hz)
    if even_s.size > MOST_FRAMES:
        raise OutputError.of(
            "too_many_frames_for_c3d", file=clip.path.name, n=even_s.size, most=MOST_FRAMES
        )
    points_mm = MM_PER_M * on_even_times(
        paths.time_s, np.moveaxis(paths.joints_m, 0, 1), even_s
    ).reshape(even_s.size, -1, 3)
    unknown = ~np.isfinite(points_mm).all(axis=-1)
    points_mm[unknown] = np.nan

    file = ezc3d.c3d()
    point = file["parameters"]["POINT"]
    point["RATE"]["value"] = [rate_hz]
    point["UNITS"]["value"] = ["mm"]
    point["LABELS"]["value"] = point_labels(paths.joints_m.shape[0])
    file["data"]["points"] = points_mm.transpose(2, 1, 0)
    file["data"]["meta_points"]["residuals"] = np.where(unknown.T, -1.0, 0.0)[None]
    file.add_parameter("POINT", "X_SCREEN", ["+X"])
    file.add_parameter("POINT", "Y_SCREEN", ["+Z"])
    file.add_parameter("MANUFACTURER", "SOFTWARE", ["crossemetry"])
    file.add_parameter("MANUFACTURER", "VERSION_LABEL", [__version__])
    for name, text in _about(film.analysis, rate_hz).items():
        file.add_parameter("CROSSEMETRY", name, [text])
    _add_events(file, film.analysis)
    with tempfile.TemporaryDirectory() as folder:  # the library writes to named files only
        path = Path(folder) / "joints.c3d"
        file.write(str(path))
        return path.read_bytes()


def point_labels(n_people: int) -> list[str]:
    """Give the labels of the points: joint names, the defender's with ``defender_`` in front."""
    return [
        joint if person == 0 else f"{PEOPLE[person]}_{joint}"
        for person in range(n_people)
        for joint in JOINTS
    ]


def events_of(analysis: Analysis) -> list[tuple[float, str, str]]:
    """Give time, name and description of all instants of all reps, in the order of time."""
    found = []
    for result in analysis.reps:
        rep = result.rep
        instants = {
            "start": rep.start_s,
            **{name: event.time_s for name, event in rep.events.items()},
            "stop": rep.stop_s,
        }
        found += [(at_s, name, f"rep {rep.index}, {rep.move}") for name, at_s in instants.items()]
    return sorted(event for event in found if math.isfinite(event[0]))


def _about(analysis: Analysis, rate_hz: float) -> dict[str, str]:
    frame = field_frame(analysis)
    return {
        "CLIP": analysis.clip.path.name,
        "CLIP_DIGEST": analysis.clip.digest,
        "RATE_SAYS": f"even {rate_hz:.6g} Hz, by splines through the times of the film",
        "FRAME": frame["frame_of_reference"],
        "SCALE_GRADE": frame["scale_grade"],
    }


def _add_events(file: Any, analysis: Analysis) -> None:  # noqa: ANN401 - an ezc3d file
    events = events_of(analysis)
    file.add_parameter("EVENT", "USED", len(events))
    for part, start in enumerate(range(0, len(events), MOST_IN_A_PARAMETER), 1):
        times, names, says = zip(*events[start : start + MOST_IN_A_PARAMETER], strict=True)
        # Minutes and seconds, as the format has it.
        minutes = [float(at_s // 60) for at_s in times]
        seconds = [at_s - 60.0 * minute for at_s, minute in zip(times, minutes, strict=True)]
        number = "" if part == 1 else str(part)
        file.add_parameter("EVENT", f"TIMES{number}", np.array([minutes, seconds]))
        file.add_parameter("EVENT", f"LABELS{number}", list(names))
        file.add_parameter("EVENT", f"DESCRIPTIONS{number}", list(says))
        file.add_parameter("EVENT", f"CONTEXTS{number}", ["General"] * len(names))
