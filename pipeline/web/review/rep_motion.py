"""Values that the page draws over the film: joints, events, contacts, lines of measures."""

from __future__ import annotations

from typing import Any

import numpy as np

from pipeline.core.results import Measurement
from pipeline.core.spline import runs
from pipeline.core.types import JOINTS, FloatArray, Rep
from pipeline.feedback.words import Words, number_text
from pipeline.measures import MEASURES
from pipeline.report.pictures.drawing import BONES
from pipeline.report.pictures.key_frames import line_kind
from pipeline.report.timing import event_text
from pipeline.web.review.clip_cache import CachedClip
from pipeline.web.review.film_times import field_on_film, tracks_on_film
from pipeline.web.review.remeasure import Remeasured, room_of

SHOWN_AROUND_S = 1.0
"""Time shown before and after the rep."""


def shown_frames(rep: Rep, time_s: FloatArray) -> tuple[int, int]:
    """First shown frame, and the one after the last."""
    start = int(np.searchsorted(time_s, rep.start_s - SHOWN_AROUND_S))
    stop = int(np.searchsorted(time_s, rep.stop_s + SHOWN_AROUND_S, side="right"))
    return start, max(stop, start + 1)


def motion_answer(words: Words, clip: CachedClip, found: Rep, now: Remeasured) -> dict[str, Any]:
    """Give the drawn values for JSON.

    Parameters
    ----------
    words
        Names of events and texts of numbers.
    clip
        The clip.
    found
        The rep as detected, which fixes the shown frames.
    now
        The rep with the edits in force.
    """
    placed, rep = clip.placed, now.rep
    time_s = placed.clip.time_s
    start, stop = shown_frames(found, time_s)
    joints_px = tracks_on_film(placed, now.smooth).image_px[:, start:stop]
    limbs = {
        info.key: [
            [[JOINTS.index(joint.format(**_sides(rep))) for joint in corner] for corner in line]
            for line in info.body_lines
        ]
        for info in MEASURES.values()
        if info.body_lines
        and info.key in now.measurements and now.measurements[info.key].value is not None
        and (rep.stick_hand is not None or "{" not in str(info.body_lines))
    }  # fmt: skip
    return {
        "size_px": [placed.clip.width_px, placed.clip.height_px],
        "first": start,
        "time_s": [round(float(t), 4) for t in time_s[start:stop]],
        "people": plain(joints_px),
        "bones": BONES,
        "joints": JOINTS,
        "rep": [rep.start_frame, rep.stop_frame - 1],
        "events": [
            {
                "name": name,
                "title": event_text(words, name),
                "frame": event.frame,
                "room": room_of(rep, name, time_s),
                "by_coach": event != found.events.get(name),
            }
            for name, event in rep.events.items()
        ],
        "contacts": {
            foot: [
                [start + a, start + b - 1] for a, b in runs(now.people[0].contact[start:stop, i])
            ]
            for i, foot in enumerate(("left", "right"))
        },
        "lines": {
            key: _line(clip, measured, start, stop)
            for key, measured in now.measurements.items()
            if measured.ends_m is not None and placed.scene.grade != "C"
        },
        "limbs": limbs,
        "read": {
            key: [min(measured.frames), max(measured.frames)]
            for key, measured in now.measurements.items()
            if measured.frames
        },
        "numbers": {
            key: number_text(words, measured)
            for key, measured in now.measurements.items()
            if measured.value is not None
        },
    }


def plain(points: FloatArray) -> list[Any]:
    """Nested lists rounded to a tenth of a pixel; None where a value is missing."""
    tenths = np.round(points.astype(float), 1)
    values = tenths.astype(object)
    values[~np.isfinite(tenths)] = None
    return list(values.tolist())


def _sides(rep: Rep) -> dict[str, str]:
    top = rep.stick_hand or "right"
    return {"top": top, "bottom": "left" if top == "right" else "right"}


def _line(clip: CachedClip, measured: Measurement, start: int, stop: int) -> dict[str, Any]:
    """Give the ends of a measured line in px: one pair, or one per frame of a moving camera."""
    ends_m = np.asarray(measured.ends_m, float)
    is_moving = clip.placed.steady.to_film is not None
    frames = range(start, stop if is_moving else start + 1)
    ends_px = np.stack([field_on_film(clip.placed, frame, ends_m) for frame in frames])
    return {"kind": line_kind(measured.key), "ends": plain(ends_px)}
