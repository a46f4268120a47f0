"""The picture of a rep: its key frame, with the main measure's two ends as pixels."""

from __future__ import annotations

import numpy as np

from calibration.camera import project_px
from calibration.lens_profile import distort_px
from calibration.turned_view import moved_points
from pipeline.core.move_table import MOVE_INFO
from pipeline.core.results import Analysis, Measurement, RepResult
from pipeline.core.types import FloatArray, Scene
from pipeline.feedback.words import Words, say_number, words_of
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
"""How far from the cushion the defender's arm length is laid on the ground beside it."""

AT_ONCE = 4
"""Frames that are held at a time: memory must not grow with the length of a film."""


def rep_pictures(analysis: Analysis, *, cache: TrackCache, hide_faces: bool) -> dict[int, bytes]:
    """Draw one picture per rep at its key event.

    Parameters
    ----------
    analysis
        Of the clip; its film has to lie where it lay.
    cache
        Where key frames of earlier analyses are kept.
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
    """Frame of the rep's key event, else of its release, else its middle."""
    name = key_event(result)
    if name is not None:
        return result.rep.events[name].frame
    return (result.rep.start_frame + result.rep.stop_frame) // 2


def key_time_s(result: RepResult, time_s: FloatArray) -> float:
    """Instant of the rep's key event in clip time, between frames where it is known so well.

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
    """Name of the event that the picture shows; None where the rep has none to show."""
    move = MOVE_INFO.get(result.rep.move)
    for name in ("release",) if move is None else (move.key_event, "release"):
        if name in result.rep.events:
            return name
    return None


def line_kind(key: str) -> DrawnKind:
    """How the line of a measure is drawn; a plain span where nothing is said of it."""
    line = MEASURES[key].line if key in MEASURES else None
    return line or "span"


def drawn_measures(scene: Scene, result: RepResult) -> list[Measurement]:
    """Measurements that have a line in the rep's picture; none where there is no ground."""
    if scene.grade == "C":  # the floor goes along with the foot, the camera's place is a guess
        return []
    shown = key_event(result)
    found = [
        result.measurements.get(info.key)
        for info in MEASURES.values()
        if info.line is not None and info.line_at in (None, shown)
    ]
    return [m for m in found if m is not None and m.value is not None and m.ends_m is not None]


def _load_frames(analysis: Analysis, wanted: set[int], cache: TrackCache) -> dict[int, Picture]:
    """Frames from the cache, the others from the film, kept for the next time."""
    kept = {frame: cache.load_frame(analysis.clip.digest, frame) for frame in wanted}
    pictures = {frame: picture for frame, picture in kept.items() if picture is not None}
    missing = wanted - set(pictures)
    if missing:
        for frame, picture in read_frames(analysis.clip, missing).items():
            cache.save_frame(analysis.clip.digest, frame, picture)
            pictures[frame] = picture
    return pictures


def rep_marks(analysis: Analysis, result: RepResult, frame: int) -> list[DrawnMeasure]:
    """Lines of the measures that have one, by the best camera; none where there is no ground.

    Parameters
    ----------
    analysis
        For the camera.
    result
        The rep.
    frame
        In whose picture; matters where the camera moved.
    """
    words = words_of(analysis)
    marks = []
    for measurement in drawn_measures(analysis.scene, result):
        ends_m = np.asarray(measurement.ends_m, float)
        text = picture_text(words, measurement)
        marks.append(_mark(analysis, frame, ends_m, text, line_kind(measurement.key)))
        arm = result.measurements.get("defender_arm_length_m")
        if measurement.key == "cushion_m" and arm is not None and arm.value is not None:
            text = words.report["picture_arm"].format(number=say_number(words, arm))
            marks.append(_mark(analysis, frame, _arm_ends_m(ends_m, arm.value), text, "span"))
    return marks


def picture_text(words: Words, measurement: Measurement) -> str:
    """Say a measure beside its line: in its short words for a picture, else with its title."""
    number = say_number(words, measurement)
    short = words.measure.get(measurement.key, {}).get("picture")
    if short is not None:
        return short.format(number=number)
    title = words.title(measurement.key)
    return words.report["picture_drawn_one"].format(measure=title, number=number)


def _arm_ends_m(cushion_ends_m: FloatArray, arm_m: float) -> FloatArray:
    """(2, 3) the defender's arm on the ground, from beside him towards the attacker.

    On the side of the line that is nearer to the camera, which stands at the origin, or it would
    be behind the feet.
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
