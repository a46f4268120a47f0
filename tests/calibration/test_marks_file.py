"""Marks as a file: read as written, and mistakes told with file and key."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calibration.marks import Mark
from calibration.marks_file import marks_text, read_marks
from pipeline.core.errors import MarksError, SettingsError

HEAD = 'schema = "crossemetry.marks/1"\n'
CONE = '[[marks]]\nname = "cone"\nfield_m = [1, 2.5, 0.0]\nimage_px = [640.5, 360]\n'


@pytest.fixture
def path(tmp_path):
    return tmp_path / "marks.toml"


def test_marks_are_read_as_written(path):
    post = CONE.replace("cone", "post") + "uncertainty_px = 1\nuncertainty_m = 0\n"
    path.write_text(HEAD + CONE + post, encoding="utf-8")
    cone = Mark(name="cone", field_m=(1.0, 2.5, 0.0), image_px=(640.5, 360.0))
    assert (cone.uncertainty_px, cone.uncertainty_m) == (2.0, 0.02)
    sure = Mark(
        name="post", field_m=cone.field_m, image_px=cone.image_px, uncertainty_px=1.0,
        uncertainty_m=0.0,
    )  # fmt: skip
    assert read_marks(path) == (cone, sure)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (CONE, "schema: is missing"),
        (HEAD.replace("/1", "/2") + CONE, "schema: 'crossemetry.marks/2' does not fit"),
        (HEAD, "marks: is missing"),
        (HEAD + 'marks = "cone"', "marks: 'cone' does not fit"),
        (HEAD + "marks = [1]", "marks: .* does not fit"),
        (HEAD + "extra = 1\n" + CONE, "extra: unknown key"),
        (HEAD + CONE + "pixels = 1", r"marks\[1\]\.pixels: unknown key.*image_px"),
        (HEAD + CONE.replace('name = "cone"\n', ""), r"marks\[1\]\.name: is missing"),
        (HEAD + CONE + '[[marks]]\nname = "b"', r"marks\[2\]\.field_m: is missing.*metres"),
        (HEAD + CONE.replace('"cone"', '" "'), r"marks\[1\]\.name: ' ' does not fit"),
        (HEAD + CONE.replace("[1, 2.5, 0.0]", "[1, 2.5]"), r"field_m: .*three numbers"),
        (HEAD + CONE.replace("[1,", "[true,"), r"field_m: .*three numbers"),
        (HEAD + CONE.replace("[1,", "[nan,"), r"field_m: .*three numbers"),
        (HEAD + CONE.replace("[1,", f"[1{'0' * 400},"), r"field_m: .*three numbers"),
        (HEAD + CONE.replace("360]", '"360"]'), r"image_px: .*two numbers"),
        (HEAD + CONE + "uncertainty_px = 0", r"uncertainty_px: 0 .*positive"),
        (HEAD + CONE + "uncertainty_m = -0.1", r"uncertainty_m: -0\.1 .*not negative"),
        (HEAD + CONE + CONE, r"marks\[2\]\.name: 'cone' stands twice"),
        (HEAD + "[[marks", "not a file of marks"),
    ],
)
def test_mistakes_name_file_and_key(path, text, says):
    path.write_text(text, encoding="utf-8")
    with pytest.raises(MarksError, match=says) as caught:
        read_marks(path)
    assert str(caught.value).startswith("marks.toml")
    assert isinstance(caught.value, SettingsError)


def test_a_file_that_is_not_there_or_no_text_is_told(path):
    with pytest.raises(MarksError, match="marks cannot be read"):
        read_marks(path)
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(MarksError, match="not a file of marks"):
        read_marks(path)


def numbers(low, high):
    return st.floats(low, high, allow_nan=False)


MARKS = st.lists(
    st.builds(
        Mark,
        name=st.text(min_size=1, max_size=20).filter(str.strip),
        field_m=st.tuples(*[numbers(-1000, 1000)] * 3),
        image_px=st.tuples(*[numbers(0, 1e5)] * 2),
        uncertainty_px=numbers(0.01, 1000),
        uncertainty_m=numbers(0, 10),
    ),
    max_size=4,
    unique_by=lambda mark: mark.name,
).filter(bool)


@pytest.mark.slow
@given(marks=MARKS)
def test_marks_that_are_written_are_read_back_the_same(tmp_path_factory, marks):
    path = tmp_path_factory.mktemp("marks") / "marks.toml"
    path.write_bytes(marks_text(marks).encode("utf-8"))
    assert read_marks(path) == tuple(marks)
