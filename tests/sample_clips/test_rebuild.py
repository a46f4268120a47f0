"""Where the renderer is installed: the committed truth comes out again to the last digit."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

pytestmark = pytest.mark.usefixtures("renderer")

SAMPLES = Path(__file__).resolve().parents[2] / "sample_clips"


@pytest.mark.filterwarnings("default")
def test_the_truth_of_a_sample_comes_out_again():
    from sample_clips.render.sets import table
    from sample_clips.render.staging import build
    from sample_clips.render.truth import truth_of
    from sample_clips.render.video import frame_rows, times_of

    entry = table("sample")[0]
    staging = build(entry)
    rows = frame_rows(staging)
    again = json.loads(json.dumps(truth_of(staging, rows, times_of(rows))))
    assert again == json.loads((SAMPLES / f"{entry.name}.truth.json").read_text())


def test_thinning_keeps_a_closed_mesh_and_the_place_of_its_vertices():
    from sample_clips.render.coarse import thin

    corners = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], dtype=float)
    faces = np.array([[0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5]])
    kept, thinned = thin(corners, faces, np.full(8, 0.1))
    np.testing.assert_array_equal(corners[kept][thinned], corners[faces])
