"""Corrections on the disk: one file of numbers and plain text, in the program's own folder.

A file holds what the classifier saw of some moments of a body's motion, never a picture and never
the name of a film.
"""

from __future__ import annotations

import io
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from pipeline.core.errors import CorrectionError, OutputError
from pipeline.core.files import data_folder, made_folder, write_whole
from pipeline.core.types import FloatArray
from pipeline.moves.naming.features import N_FEATURES
from pipeline.teaching.corrections import Correction, away_from, same_reps
from pipeline.teaching.drill_store import DAMAGED
from pipeline.teaching.team_classifier import Lesson

FOLDER = "corrections"
FORMAT = 1
KINDS = ("relabelled", "confirmed", "dismissed", "split", "joined")


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrections:
    """All corrections of a team.

    Attributes
    ----------
    made
        In the order in which they were made.
    anchors
        By digest of a film: times and features of moments that are kept as they were found.
    """

    made: tuple[Correction, ...] = ()
    anchors: Mapping[str, tuple[FloatArray, FloatArray]] = field(default_factory=dict)

    def with_one(
        self, correction: Correction, anchors: tuple[FloatArray, FloatArray]
    ) -> Corrections:
        """Add a correction; one that was made of the same reps gives way to it."""
        kept = tuple(one for one in self.made if not same_reps(one, correction))
        return replace(
            self, made=(*kept, correction), anchors={**self.anchors, correction.clip: anchors}
        )

    @property
    def lessons(self) -> tuple[Lesson, ...]:
        """What all corrections teach."""
        return tuple(lesson for one in self.made for lesson in one.lessons)

    @property
    def held(self) -> tuple[Lesson, ...]:
        """Moments of the corrected films that nobody corrected; their label is empty."""
        found = []
        for clip, (time_s, features) in self.anchors.items():
            windows_s = [w for one in self.made if one.clip == clip for w in one.windows_s]
            away = away_from(time_s, windows_s)
            if away.any():
                found.append(Lesson(features=features[away], label="", clip=clip))
        return tuple(found)


def corrections_path() -> Path:
    """File of the corrections; it may not be there."""
    return data_folder() / FOLDER / "corrections.npz"


def load_corrections() -> Corrections:
    """Read all corrections; none when there is no file.

    Raises
    ------
    CorrectionError
        The file is damaged, or another version of the program wrote it.
    """
    path = corrections_path()
    if not path.exists():
        return Corrections()
    head, arrays = read_packed(path)
    if head.get("format") != FORMAT or head.get("n_features") != N_FEATURES:
        raise CorrectionError.of("corrections_of_other_version", path=str(path))
    try:
        return _corrections(head, arrays)
    except DAMAGED as error:
        raise damaged(path) from error


def save_corrections(corrections: Corrections) -> None:
    """Write all corrections, whole or not at all.

    Raises
    ------
    OutputError
        They cannot be written.
    """
    lessons = corrections.lessons
    arrays: dict[str, FloatArray] = {
        "lessons": np.concatenate(
            [lesson.features for lesson in lessons] or [np.zeros((0, N_FEATURES))]
        ).astype(np.float32)
    }
    for number, (time_s, features) in enumerate(corrections.anchors.values()):
        arrays[f"anchor_time_s_{number}"] = time_s
        arrays[f"anchor_{number}"] = features.astype(np.float16)
    head = {
        "format": FORMAT,
        "n_features": N_FEATURES,
        "anchors": list(corrections.anchors),
        "made": [
            {
                "kind": one.kind,
                "was": one.was,
                "label": one.label,
                "windows_s": [list(window_s) for window_s in one.windows_s],
                "clip": one.clip,
                "by": one.by,
                "at": one.at,
                "lessons": [[lesson.label, len(lesson.features)] for lesson in one.lessons],
            }
            for one in corrections.made
        ],
    }
    made_folder(FOLDER)
    write_packed(corrections_path(), head, arrays)


def read_packed(path: Path) -> tuple[dict[str, Any], dict[str, FloatArray]]:
    """Read a file of a JSON head and arrays; no object in it is ever made.

    Raises
    ------
    CorrectionError
        It is damaged.
    """
    try:
        with np.load(io.BytesIO(path.read_bytes()), allow_pickle=False) as kept:
            arrays = {name: kept[name] for name in kept.files}
        head = json.loads(arrays.pop("head").tobytes().decode("utf-8"))
        return dict(head), arrays
    except DAMAGED as error:
        raise damaged(path) from error


def write_packed(path: Path, head: Mapping[str, Any], arrays: Mapping[str, FloatArray]) -> None:
    """Write a file of a JSON head and arrays, whole or not at all.

    Raises
    ------
    OutputError
        It cannot be written.
    """
    text = json.dumps(head, ensure_ascii=False, allow_nan=False).encode("utf-8")
    packed = io.BytesIO()
    everything: dict[str, Any] = {"head": np.frombuffer(text, dtype=np.uint8), **arrays}
    np.savez_compressed(packed, **everything)
    try:
        write_whole(path, [packed.getvalue()])
    except OSError as error:
        why = error.strerror or str(error)
        raise OutputError.of("learned_not_written", path=str(path), why=why) from error


def damaged(path: Path) -> CorrectionError:
    """Make the error for a file that is no whole file of numbers."""
    return CorrectionError.of("learned_damaged", path=str(path))


def _corrections(head: Mapping[str, Any], arrays: Mapping[str, FloatArray]) -> Corrections:
    """Make corrections of what a file holds; raises `ValueError` for what cannot be meant."""
    rows = np.asarray(arrays["lessons"], dtype=float)
    row, made = 0, []
    for entry in head["made"]:
        lessons = []
        for label, n in entry["lessons"]:
            lessons.append(
                Lesson(features=rows[row : row + n], label=str(label), clip=str(entry["clip"]))
            )
            row += n
        if entry["kind"] not in KINDS or not all(len(one.features) for one in lessons):
            raise ValueError("no such correction")
        made.append(
            Correction(
                kind=entry["kind"],
                was=str(entry["was"]),
                label=str(entry["label"]),
                windows_s=tuple((float(a), float(b)) for a, b in entry["windows_s"]),
                lessons=tuple(lessons),
                clip=str(entry["clip"]),
                by=str(entry["by"]),
                at=str(entry["at"]),
            )
        )
    anchors = {
        str(clip): (
            np.asarray(arrays[f"anchor_time_s_{number}"], dtype=float),
            np.asarray(arrays[f"anchor_{number}"], dtype=float),
        )
        for number, clip in enumerate(_texts(head["anchors"]))
    }
    shapes = [rows.shape, *(features.shape for _, features in anchors.values())]
    if row != len(rows) or any(len(s) != 2 or s[1] != N_FEATURES for s in shapes):
        raise ValueError("arrays of another shape")
    return Corrections(made=tuple(made), anchors=anchors)


def _texts(values: Sequence[Any]) -> list[str]:
    return [str(value) for value in values]
