"""A field to be marked: marks as a known camera sees them, and what the page is made of."""

import pytest

from pipeline.web.field.app import FieldPicture
from pipeline.web.field.suggest_marks import Proposal
from tests.fixtures.marks import marks_seen
from tests.fixtures.walker import SIZE_PX, camera_at

CAMERA = camera_at(height_m=1.4, pitch_deg=6.0, roll_deg=-1.0)


@pytest.fixture
def marks():
    return marks_seen(CAMERA)


@pytest.fixture
def field(tmp_path):
    return FieldPicture(
        clip_path=tmp_path / "<b>clip.mp4",
        picture=b"\xff\xd8picture",
        size_px=SIZE_PX,
        proposals=(Proposal(kind="cone_foot", image_px=(10.0, 20.0)),),
        out=tmp_path / "marks.toml",
    )
