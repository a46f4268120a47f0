"""The pose model bundles with their origin, licence and checksums."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from importlib.resources import files
from pathlib import Path

from pipeline.core.errors import ModelError

MODELS = ("lite", "full", "heavy")
"""Names of the shipped pose models, the fastest first."""

DEFAULT_MODEL = "heavy"

UNNAMED_MODEL = "full"
"""Landmarks and settings that name no model are of this one, which came first."""


def folder() -> Path:
    """Return the folder in which the shipped bundles lie."""
    return Path(str(files(__name__)))


def bundle_path(model: str = DEFAULT_MODEL) -> Path:
    """Return where the bundle of a pose model lies.

    Parameters
    ----------
    model
        One of `MODELS`, or the path of a bundle of one's own.
    """
    return folder() / f"pose_landmarker_{model}.task" if model in MODELS else Path(model)


def checksums() -> dict[str, str]:
    """Return the SHA-256 of each shipped bundle by its file name."""
    lines = (folder() / "SHA256SUMS").read_text(encoding="ascii").splitlines()
    return {name: digest for digest, name in (line.split() for line in lines if line)}


def verify(path: Path) -> str:
    """Return the SHA-256 of a bundle; a shipped one must be the very file that was shipped.

    Parameters
    ----------
    path
        A shipped bundle, or one's own.

    Raises
    ------
    ModelError
        If the file is missing, or carries the name of a shipped bundle but not its content.
    """
    try:
        state = path.stat()
        digest = _digest(path, state.st_size, state.st_mtime_ns)
    except OSError as error:
        raise ModelError.of("unreadable_pose_model", file=path.name) from error
    if digest != checksums().get(path.name, digest):
        raise ModelError.of("altered_pose_model", file=path.name)
    return digest


@lru_cache(maxsize=8)
def _digest(path: Path, size: int, changed_ns: int) -> str:
    """Return the SHA-256 of a file, read once as long as its size and time of change are these."""
    return hashlib.sha256(path.read_bytes()).hexdigest()
