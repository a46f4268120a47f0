"""What the page draws over the film: joints by frame, events, contacts, lines of measures."""

from __future__ import annotations

from typing import Any

import numpy as np

from pipeline.core.results import Measurement
from pipeline.core.spline import runs
from pipeline.core.types import JOINTS, FloatArray, Rep
from pipeline.feedback.words import Words, say_number
from pipeline.measures import MEASURES
from pipeline.report.pictures.drawing import BONES
from pipeline.report.pictures.key_frames import line_kind
from pipeline.report.timing import event_text
from pipeline.web.review.clip_cache import KeptClip
from pipeline.web.review.film_times import field_on_film, filmed
from pipeline.web.review.remeasure import Remeasured, room_of

SHOWN_AROUND_S = 1.0
"""Film before and after the rep that is shown."""


def shown_frames(rep: Rep, time_s: FloatArray) -> tuple[int, int]:
    """First frame that is shown, and the one after the last."""
    start = int(np.searchsorted(time_s, rep.start_s - SHOWN_AROUND_S))
    stop = int(np.searchsorted(time_s, rep.stop_s + SHOWN_AROUND_S, side="right"))
    return start, max(stop, start + 1)


def motion_answer(words: Words, clip: KeptClip, found: Rep, now: Remeasured) -> dict[str, Any]:
    """Give what is drawn, as plain values for JSON.

    Parameters
    ----------
    words
        Names of events and numbers.
    clip
        The clip, and in it the rep as it was found.
    found
        The rep as the program found it, which fixes what is shown.
    now
        The rep with the changes that stand.
    """
    seen, rep = clip.seen, now.rep
    time_s = seen.clip.time_s
    start, stop = shown_frames(found, time_s)
    joints_px = filmed(seen, now.smooth).image_px[:, start:stop]
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
        "size_px": [seen.clip.width_px, seen.clip.height_px],
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
            if measured.ends_m is not None and seen.scene.grade != "C"
        },
        "limbs": limbs,
        "read": {
            key: [min(measured.frames), max(measured.frames)]
            for key, measured in now.measurements.items()
            if measured.frames
        },
        "numbers": {
            key: say_number(words, measured)
            for key, measured in now.measurements.items()
            if measured.value is not None
        },
    }


def plain(points: FloatArray) -> list[Any]:
    """Nested lists of a tenth of a pixel; None where a value is unknown."""
    tenths = np.round(points.astype(float), 1)
    values = tenths.astype(object)
    values[~np.isfinite(tenths)] = None
    return list(values.tolist())


def _sides(rep: Rep) -> dict[str, str]:
    top = rep.stick_hand or "right"
    return {"top": top, "bottom": "left" if top == "right" else "right"}


def _line(clip: KeptClip, measured: Measurement, start: int, stop: int) -> dict[str, Any]:
    """Give the ends of a measured line: one pair, or one for each frame of a moving camera."""
    ends_m = np.asarray(measured.ends_m, float)
    frames = range(start, stop) if clip.seen.steady.to_film is not None else range(start, start + 1)
    ends_px = np.stack([field_on_film(clip.seen, frame, ends_m) for frame in frames])
    return {"kind": line_kind(measured.key), "ends": plain(ends_px)}
