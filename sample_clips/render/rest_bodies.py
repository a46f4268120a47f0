"""Rest bodies without their mesh, from a small file: motions can be worked out without the model.

``python -m sample_clips.render.rest_bodies`` writes ``rest_bodies.json`` anew from the body model.
"""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from . import people
from .body import SEGMENTS, Body, make_body
from .people import Person

FILE = Path(__file__).with_name("rest_bodies.json")
STORED_STATURE_M = 1.8


def light_body(stature_m: float, shape: dict[str, float]) -> Body:
    """Return a body without vertices: the stored one of the nearest shape, scaled to a stature.

    Parameters
    ----------
    stature_m : float
    shape : dict
        Shape parameters as `make_body` takes them.
    """
    stored = _stored()
    nearest = min(stored, key=lambda s: sum((s["shape"][k] - v) ** 2 for k, v in shape.items()))
    scale = stature_m / STORED_STATURE_M
    return Body(
        stature_m=stature_m,
        vertices_m=np.zeros((0, 3)),
        faces=np.zeros((0, 3), dtype=np.int64),
        weights=np.zeros((0, len(SEGMENTS))),
        heads_m=scale * np.array(nearest["heads_m"]),
        points_m={
            name: np.array(point) * (1.0 if name.endswith("knuckle_line") else scale)
            for name, point in nearest["points_m"].items()
        },
        arm_length_m=scale * nearest["arm_length_m"],
    )


@lru_cache(maxsize=1)
def _stored() -> list[dict[str, Any]]:
    stored: list[dict[str, Any]] = json.loads(FILE.read_text(encoding="utf-8"))["bodies"]
    return stored


def _write() -> None:
    shapes: list[dict[str, float]] = []
    for person in vars(people).values():
        if isinstance(person, Person) and person.shape not in shapes:
            shapes.append(person.shape)
    bodies = []
    for shape in shapes:
        body = make_body(STORED_STATURE_M, shape)
        bodies.append(
            {
                "shape": shape,
                "heads_m": body.heads_m.round(5).tolist(),
                "points_m": {k: v.round(5).tolist() for k, v in body.points_m.items()},
                "arm_length_m": round(body.arm_length_m, 5),
            }
        )
    lines = ",\n".join(json.dumps(body, separators=(",", ":")) for body in bodies)
    FILE.write_text(
        f'{{"stature_m": {STORED_STATURE_M}, "bodies": [\n{lines}\n]}}\n', encoding="utf-8"
    )


if __name__ == "__main__":
    _write()
