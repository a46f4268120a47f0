"""Draws each rep's key frame with its measures projected into the picture."""

from __future__ import annotations

import numpy as np

from calibration.camera import project_px
from calibration.lens_profile import distort_px
from calibration.turned_view import moved_points
from pipeline.core.move_table import MOVE_INFO
from pipeline.core.results import Analysis, Measurement, RepResult
from pipeline.core.types import FloatArray, Scene
from pipeline.feedback.words import Words, number_text, words_of
from pipeline.film.clip import read_frames
from pipeline.film.container import Picture
from pipeline.measures import MEASURES
from pipeline.people.cache import TrackCache
from pipeline.report.pictures.rep_picture import (
    DrawnKind,
    DrawnMeasure,
    draw_rep_picture,
    encode_jpeg,
)

ARM_ASIDE_M = 0.4
"""Distance on the ground from the line of the cushion to that of the defender's arm length."""

AT_ONCE = 4
"""Frames in memory at a time, so that memory does not grow with the length of a film."""


def rep_pictures(analysis: Analysis, *, cache: TrackCache, hide_faces: bool) -> dict[int, bytes]:
    """Draw one picture per rep at its key event.

    Parameters
    ----------
    analysis
        The result for a clip whose film is still at its path.
    cache
        Cache of the key frames of earlier analyses.
    hide_faces
        Whether faces are made unrecognisable.

    Returns
    -------
    dict
        JPEG bytes by the index of the rep.
    """
    drawn = {}
    for start in range(0, len(analysis.reps), AT_ONCE):
        results = analysis.reps[start : start + AT_ONCE]
        pictures = _load_frames(analysis, {key_frame(result) for result in results}, cache)
        for result in results:
            frame = key_frame(result)
            if frame in pictures:
                joints_px = analysis.tracks.image_px[:, frame]
                marks = rep_marks(analysis, result, frame)
                picture = draw_rep_picture(pictures[frame], joints_px, marks, hide_faces=hide_faces)
                drawn[result.rep.index] = encode_jpeg(picture)
    return drawn


def key_frame(result: RepResult) -> int:
    """Return the frame of the rep's key event, else of its release, else its middle."""
    name = key_event(result)
    if name is not None:
        return result.rep.events[name].frame
    return (result.rep.start_frame + result.rep.stop_frame) // 2


def key_time_s(result: RepResult, time_s: FloatArray) -> float:
    """Return the instant of the rep's key event in clip time, s; may lie between frames.

    Parameters
    ----------
    result
        The rep.
    time_s
        (n_frames,) times of the clip.
    """
    name = key_event(result)
    if name is not None:
        return result.rep.events[name].time_s
    return float(time_s[min(key_frame(result), time_s.size - 1)])


def key_event(result: RepResult) -> str | None:
    """Return the event that the picture shows: the key event or the release; None without."""
    move = MOVE_INFO.get(result.rep.move)
    for name in ("release",) if move is None else (move.key_event, "release"):
        if name in result.rep.events:
            return name
    return None


def line_kind(key: str) -> DrawnKind:
    """Return how the line of a measure is drawn; a plain span by default."""
    line = MEASURES[key].line if key in MEASURES else None
    return line or "span"


def drawn_measures(scene: Scene, result: RepResult) -> list[Measurement]:
    """Return the measurements with a line in the rep's picture; empty without a known ground."""
    if scene.grade == "C":  # the ground follows the foot and the camera's position is unknown
        return []
    shown = key_event(result)
    found = [
        result.measurements.get(info.key)
        for info in MEASURES.values()
        if info.line is not None and info.line_at in (None, shown)
    ]
    return [m for m in found if m is not None and m.value is not None and m.ends_m is not None]


def _load_frames(analysis: Analysis, wanted: set[int], cache: TrackCache) -> dict[int, Picture]:
    """Load frames from the cache; read the others from the film and cache them."""
    cached = {frame: cache.load_frame(analysis.clip.digest, frame) for frame in wanted}
    pictures = {frame: picture for frame, picture in cached.items() if picture is not None}
    missing = wanted - set(pictures)
    if missing:
        for frame, picture in read_frames(analysis.clip, missing).items():
            cache.save_frame(analysis.clip.digest, frame, picture)
            pictures[frame] = picture
    return pictures


def rep_marks(analysis: Analysis, result: RepResult, frame: int) -> list[DrawnMeasure]:
    """Project the lines of a rep's measures into a frame; empty without a known ground.

    Parameters
    ----------
    analysis
        Source of the best estimate of the camera.
    result
        The rep.
    frame
        Frame of the picture; it matters where the camera moved.
    """
    words = words_of(analysis)
    marks = []
    for measurement in drawn_measures(analysis.scene, result):
        ends_m = np.asarray(measurement.ends_m, float)
        text = picture_text(words, measurement)
        marks.append(_mark(analysis, frame, ends_m, text, line_kind(measurement.key)))
        arm = result.measurements.get("defender_arm_length_m")
        if measurement.key == "cushion_m" and arm is not None and arm.value is not None:
            text = words.report["picture_arm"].format(number=number_text(words, arm))
            marks.append(_mark(analysis, frame, _arm_ends_m(ends_m, arm.value), text, "span"))
    return marks


def picture_text(words: Words, measurement: Measurement) -> str:
    """Return the text beside a measure's line: its short picture text, else title and number."""
    number = number_text(words, measurement)
    short = words.measure.get(measurement.key, {}).get("picture")
    if short is not None:
        return short.format(number=number)
    title = words.title(measurement.key)
    return words.report["picture_drawn_one"].format(measure=title, number=number)


def _arm_ends_m(cushion_ends_m: FloatArray, arm_m: float) -> FloatArray:
    """Return the (2, 3) ends of the defender's arm, laid on the ground towards the attacker, m.

    The line lies on the camera's side of the cushion, or the feet would hide it.
    """
    attacker, defender = cushion_ends_m
    along = attacker - defender
    along = along / max(float(np.linalg.norm(along)), 1e-9)
    aside = np.array([along[1], -along[0], 0.0])
    if aside @ defender > 0.0:
        aside = -aside
    start = defender + ARM_ASIDE_M * aside
    return np.stack([start, start + arm_m * along])


def _mark(
    analysis: Analysis, frame: int, ends_m: FloatArray, text: str, kind: DrawnKind
) -> DrawnMeasure:
    scene = analysis.scene
    ends_px = project_px(
        ends_m,
        focal_px=scene.focal_px[0],
        principal_px=scene.principal_px,
        pitch_deg=scene.pitch_deg[0],
        roll_deg=scene.roll_deg[0],
        height_m=scene.height_m[0],
    )
    if analysis.to_film is not None:
        ends_px = moved_points(analysis.to_film[frame], ends_px)
    if scene.lens is not None:
        ends_px = distort_px(scene.lens, ends_px)
    (x0, y0), (x1, y1) = ends_px.tolist()
    return DrawnMeasure(start_px=(x0, y0), stop_px=(x1, y1), text=text, kind=kind)
