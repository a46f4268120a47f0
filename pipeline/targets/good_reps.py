"""Reps that a coach marked as good: picked by number from the results of earlier analyses."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.core.errors import SettingsError
from pipeline.core.toml_file import nearest

SCHEMA_NAME = "crossemetry.reps/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class GoodRep:
    """One rep with the numbers that were measured in it.

    Attributes
    ----------
    clip
        Digest of its film; reps of one film share errors of its scale.
    index
        Number in the film.
    hand
        Stick hand; None if unknown.
    stature_m
        Of the athlete.
    values
        By measure key: value and standard uncertainty; 0 where that is not known.
    """

    clip: str
    index: int
    hand: str | None
    stature_m: float
    values: Mapping[str, tuple[float, float]]


def read_marked_reps(
    paths: Sequence[Path], marks: Sequence[str], *, move: str, hand: str | None = None
) -> list[GoodRep]:
    """Read the marked reps.

    Parameters
    ----------
    paths
        Files ``reps.json``.
    marks
        For each file the numbers of its good reps, such as ``1,3,5``, or ``all``.
    move
        All of them must be of this move.
    hand
        All of them must be of this stick hand; None = of either.

    Raises
    ------
    SettingsError
        A file does not hold results, a rep is not in it, is of another move or hand, or was given
        twice; names file and rep.
    """
    if len(marks) != len(paths):
        raise SettingsError.of("marks_and_files_differ", marks=len(marks), files=len(paths))
    found: dict[tuple[str, int], GoodRep] = {}
    for path, mark in zip(paths, marks, strict=True):
        document = _read(path)
        reps = {rep["index"]: rep for rep in document["reps"]}
        for index in _indices(mark, reps, path):
            rep = reps[index]
            _check(path, rep, move, hand)
            marked = _marked(document["clip"], rep)
            if (marked.clip, index) in found:
                raise SettingsError.of("rep_given_twice", file=_named(path), rep=index)
            found[marked.clip, index] = marked
    return list(found.values())


def _read(path: Path) -> dict[str, Any]:
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
        is_results = document["schema"] == SCHEMA_NAME
        clip = document["clip"]
        _ = [(rep["index"], rep["move"], rep["stick_hand"], rep["measures"].items())
             for rep in document["reps"]], clip["digest"], clip["stature_m"]  # fmt: skip
    except OSError as error:
        raise SettingsError.of(
            "marked_reps_unreadable", file=_named(path), why=error.strerror
        ) from error
    except (ValueError, KeyError, TypeError, AttributeError):
        is_results = False
    if not is_results:
        raise SettingsError.of("no_marked_results", file=_named(path))
    return dict(document)


def _indices(mark: str, reps: Mapping[int, Any], path: Path) -> list[int]:
    if mark.strip().lower() == "all":
        return list(reps)
    indices = []
    for part in mark.split(","):
        try:
            index = int(part)
        except ValueError:
            raise SettingsError.of("no_rep_number", mark=mark, part=part) from None
        if not reps:
            raise SettingsError.of("no_reps_to_mark", file=_named(path), rep=index)
        if index not in reps:
            near = nearest(str(index), [str(number) for number in reps])
            raise SettingsError.of("no_such_marked_rep", file=_named(path), rep=index, nearest=near)
        indices.append(index)
    return indices


def _check(path: Path, rep: Mapping[str, Any], move: str, hand: str | None) -> None:
    which = {"file": _named(path), "rep": rep["index"]}
    if rep["move"] != move:
        raise SettingsError.of("marked_rep_of_other_move", **which, move=rep["move"], asked=move)
    if hand is None or rep["stick_hand"] == hand:
        return
    if not rep["stick_hand"]:
        raise SettingsError.of("marked_rep_of_no_hand", **which)
    raise SettingsError.of(
        "marked_rep_of_other_hand", **which, hand=f"hand_names.{rep['stick_hand']}"
    )


def _marked(clip: Mapping[str, Any], rep: Mapping[str, Any]) -> GoodRep:
    return GoodRep(
        clip=str(clip["digest"]),
        index=int(rep["index"]),
        hand=rep["stick_hand"],
        stature_m=float("nan") if clip["stature_m"] is None else float(clip["stature_m"]),
        values={
            key: (float(measure["value"]), float(measure["u"] or 0.0))
            for key, measure in rep["measures"].items()
            if measure["value"] is not None
        },
    )


def _named(path: Path) -> str:
    """Name of the file with the folder it lies in, for all are called reps.json."""
    return str(Path(path.parent.name) / path.name)
