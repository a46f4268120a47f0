"""Versions of a team's own layer over the move classifier: kept, put in force, and taken back."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from models.moves.classifier import CHECKSUMS, MoveClassifier, move_classifier
from pipeline.core.errors import CorrectionError, OutputError
from pipeline.core.files import data_folder, made_folder, write_whole
from pipeline.teaching.corrections_store import FOLDER, damaged, read_packed, write_packed
from pipeline.teaching.drill_store import DAMAGED
from pipeline.teaching.team_classifier import TeamLayer, with_layer

FORMAT = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """One layer that was learned.

    Attributes
    ----------
    number
        From 1.
    at, by
        When (UTC, ISO 8601), and who requested it.
    n_corrections, n_films
        What it was learned from.
    n, right_before, right_after
        Corrections that were held out film by film, and how many of them were named rightly by
        the shipped classifier alone, and with what was learned from the other films.
    """

    number: int
    at: str
    by: str
    n_corrections: int
    n_films: int
    n: int
    right_before: int
    right_after: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Versions:
    """All versions.

    Attributes
    ----------
    learned
        In their order.
    in_force
        Numbers of the versions that were put in force, the last one being in force now; empty =
        the shipped classifier alone.
    """

    learned: tuple[Version, ...] = ()
    in_force: tuple[int, ...] = field(default_factory=tuple)

    @property
    def current(self) -> int:
        """Number of the version in force; 0 = the shipped classifier alone."""
        return self.in_force[-1] if self.in_force else 0


def load_versions() -> Versions:
    """Read which versions there are; none when nothing was learned yet.

    Raises
    ------
    CorrectionError
        The file is damaged.
    """
    path = _folder() / "versions.json"
    if not path.exists():
        return Versions()
    try:
        head = json.loads(path.read_text(encoding="utf-8"))
        if head["format"] != FORMAT:
            raise ValueError("another version")
        learned = tuple(Version(**entry) for entry in head["learned"])
        in_force = tuple(int(number) for number in head["in_force"])
        if not set(in_force) <= {version.number for version in learned}:
            raise ValueError("a version that is not there")
    except DAMAGED as error:
        raise damaged(path) from error
    return Versions(learned=learned, in_force=in_force)


def keep_version(version: Version, layer: TeamLayer, *, put_in_force: bool) -> None:
    """Keep a layer, and put it in force or not.

    Raises
    ------
    OutputError
        It cannot be written.
    """
    made_folder(FOLDER)
    head = {"format": FORMAT, "classifier": _shipped(), "version": version.number}
    arrays = {"centre": layer.centre, "scale": layer.scale, "weights": layer.weights}
    write_packed(_layer_path(version.number), head, arrays)
    versions = load_versions()
    in_force = (*versions.in_force, version.number) if put_in_force else versions.in_force
    _save(replace(versions, learned=(*versions.learned, version), in_force=in_force))


def take_back() -> tuple[int, int]:
    """Put the version before in force again; returns the numbers of both, 0 = shipped alone.

    Raises
    ------
    CorrectionError
        Nothing that was learned is in force.
    """
    versions = load_versions()
    if not versions.in_force:
        raise CorrectionError.of("nothing_learned_in_force")
    before = replace(versions, in_force=versions.in_force[:-1])
    _save(before)
    return versions.current, before.current


def classifier_in_force() -> MoveClassifier:
    """Load the classifier that names the moves: the shipped one, with the team's layer if any.

    Raises
    ------
    CorrectionError
        The layer is damaged, or was learned over another classifier than the shipped one.
    ModelError
        The shipped one cannot be used.
    """
    base, number = move_classifier(), load_versions().current
    if number == 0:
        return base
    path = _layer_path(number)
    head, arrays = read_packed(path)
    if head.get("format") != FORMAT or head.get("classifier") != _shipped():
        raise CorrectionError.of("learned_over_other_version", path=str(path))
    try:
        layer = TeamLayer(centre=arrays["centre"], scale=arrays["scale"], weights=arrays["weights"])
        n_hidden = base.hidden(np.zeros((1, base.centre.size))).shape[1]
        shapes = (layer.centre.shape, layer.scale.shape, layer.weights.shape)
        if shapes != ((n_hidden,), (n_hidden,), (n_hidden + 1, len(base.classes))):
            raise ValueError("arrays of another shape")
    except DAMAGED as error:
        raise damaged(path) from error
    return with_layer(base, layer, number)


def files_in_force() -> list[Path]:
    """Return the files that decide which classifier is in force; none of them needs to exist."""
    versions = _folder() / "versions.json"
    number = load_versions().current
    return [versions] if number == 0 else [versions, _layer_path(number)]


def _folder() -> Path:
    return data_folder() / FOLDER


def _layer_path(number: int) -> Path:
    return _folder() / f"layer_{number:04d}.npz"


def _shipped() -> str:
    """Checksum of the shipped classifier."""
    return CHECKSUMS.read_text(encoding="ascii").split()[0]


def _save(versions: Versions) -> None:
    document: Mapping[str, Any] = {
        "format": FORMAT,
        "in_force": list(versions.in_force),
        "learned": [asdict(version) for version in versions.learned],
    }
    path = _folder() / "versions.json"
    try:
        write_whole(path, [json.dumps(document, indent=1, ensure_ascii=False).encode("utf-8")])
    except OSError as error:
        why = error.strerror or str(error)
        raise OutputError.of("learned_not_written", path=str(path), why=why) from error
