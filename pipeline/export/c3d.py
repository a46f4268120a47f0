"""Writes joints as C3D: resampled to a constant rate, with the events of the reps."""

from __future__ import annotations

import math
import tempfile
from pathlib import Path
from typing import Any

import numpy as np

from pipeline import __version__
from pipeline.core.errors import OutputError
from pipeline.core.results import Analysis
from pipeline.core.types import JOINTS, FloatArray
from pipeline.export.film_data import PEOPLE, FilmData
from pipeline.export.optional_libraries import import_optional
from pipeline.export.tables import field_frame

LONGEST_GAP_S = 0.1
"""Longest gap between frames that is interpolated, unless two frame periods are longer."""


def even_times_s(time_s: FloatArray, rate_hz: float) -> FloatArray:
    """Return evenly spaced times from the first frame to the last.

    Parameters
    ----------
    time_s
        (n,) times of the film's frames, rising, from 0.
    rate_hz
        Sampling rate.

    Returns
    -------
    numpy.ndarray
        (m,) where ``m`` is the number of whole periods in the film plus one.
    """
    n_periods = int(np.floor((time_s[-1] - time_s[0]) * rate_hz + 1e-6))
    return np.asarray(time_s[0] + np.arange(n_periods + 1) / rate_hz)


def resample(time_s: FloatArray, paths: FloatArray, even_s: FloatArray) -> FloatArray:
    """Resample paths by cubic splines through each known stretch.

    Parameters
    ----------
    time_s
        (n,) times of the film's frames, rising.
    paths
        (n, ...) values at these times; NaN where unknown.
    even_s
        (m,) times of the samples.

    Returns
    -------
    numpy.ndarray
        (m, ...) values; NaN outside the known stretches, so missing frames are not interpolated.
    """
    flat = paths.reshape(time_s.size, -1)
    resampled = np.full((even_s.size, flat.shape[1]), np.nan)
    if time_s.size > 1:
        longest_s = max(LONGEST_GAP_S, 2.0 * float(np.median(np.diff(time_s))))
        hole = np.flatnonzero(np.diff(time_s) > longest_s) + 1
    else:
        hole = np.array([], int)
    for column in range(flat.shape[1]):
        known = np.isfinite(flat[:, column])
        starts = np.flatnonzero(known & ~np.r_[False, known[:-1]])
        ends = np.flatnonzero(known & ~np.r_[known[1:], False]) + 1
        for start, end in zip(starts, ends, strict=True):
            inner = hole[(hole > start) & (hole < end)]
            for first, last in zip([start, *inner], [*inner, end], strict=True):
                _resample_stretch(
                    time_s[first:last], flat[first:last, column], even_s, resampled[:, column]
                )
    return resampled.reshape(even_s.size, *paths.shape[1:])


def _resample_stretch(
    time_s: FloatArray, values: FloatArray, even_s: FloatArray, into: FloatArray
) -> None:
    # Containers round their time stamps: the tolerance keeps a sample that falls on an end frame.
    near_s = 1e-4
    inside = (even_s >= time_s[0] - near_s) & (even_s <= time_s[-1] + near_s)
    if not inside.any():
        return
    at_s = np.clip(even_s[inside], time_s[0], time_s[-1])
    if time_s.size < 4:
        into[inside] = np.interp(at_s, time_s, values)
        return
    from scipy.interpolate import make_interp_spline

    into[inside] = make_interp_spline(time_s, values, k=3)(at_s)


MM_PER_M = 1000.0
MOST_IN_A_PARAMETER = 255
"""Greatest number of entries in one C3D parameter; more go into LABELS2, TIMES2 and so on."""
MOST_FRAMES = 65_535
"""Greatest number of frames in the header of a C3D file that all readers understand."""


def c3d_bytes(film: FilmData) -> bytes:
    """Write the joints of all people as the bytes of a C3D file.

    C3D has no time stamps, so the joints are resampled at the film's median frame rate.

    Parameters
    ----------
    film
        The film's data.

    Returns
    -------
    bytes
        Points in mm, field frame, z up. An unknown point has the residual -1. The group EVENT
        holds start, stop and events of each rep, with its number and move as description.

    Raises
    ------
    OutputError
        The C3D library is not installed, or the film has too few or too many frames for C3D.
    """
    ezc3d = import_optional("ezc3d", extra="c3d")
    clip, paths = film.analysis.clip, film.paths
    rate_hz = clip.frame_rate_hz
    if not math.isfinite(rate_hz):
        raise OutputError.of("too_few_frames_for_c3d", file=clip.path.name)
    even_s = even_times_s(paths.time_s, rate_hz)
    if even_s.size > MOST_FRAMES:
        raise OutputError.of(
            "too_many_frames_for_c3d", file=clip.path.name, n=even_s.size, most=MOST_FRAMES
        )
    points_mm = MM_PER_M * resample(
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
    """Return the labels of the points: joint names, with ``defender_`` before the defender's."""
    return [
        joint if person == 0 else f"{PEOPLE[person]}_{joint}"
        for person in range(n_people)
        for joint in JOINTS
    ]


def events_of(analysis: Analysis) -> list[tuple[float, str, str]]:
    """Return time (s), name and description of all events of all reps, in order of time."""
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
        times, names, descriptions = zip(*events[start : start + MOST_IN_A_PARAMETER], strict=True)
        # The format stores minutes and seconds.
        minutes = [float(at_s // 60) for at_s in times]
        seconds = [at_s - 60.0 * minute for at_s, minute in zip(times, minutes, strict=True)]
        number = "" if part == 1 else str(part)
        file.add_parameter("EVENT", f"TIMES{number}", np.array([minutes, seconds]))
        file.add_parameter("EVENT", f"LABELS{number}", list(names))
        file.add_parameter("EVENT", f"DESCRIPTIONS{number}", list(descriptions))
        file.add_parameter("EVENT", f"CONTEXTS{number}", ["General"] * len(names))
