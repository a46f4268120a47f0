"""Profiles as files: written and read the same, and mistakes told with file and key."""

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calibration.lens_file import lens_profile_text, read_lens_profile
from pipeline.core.errors import CrossemetryError, LensProfileError
from tests.fixtures.lenses import PHONE, phone


@pytest.fixture
def path(tmp_path):
    return tmp_path / "phone.toml"


def changed(path, key, value):
    """Write the phone's profile with one entry changed; None leaves it out."""
    lines = lens_profile_text(PHONE).splitlines()
    kept = [line for line in lines if not line.startswith(f"{key} =")]
    assert len(kept) == len(lines) - 1 or key not in lens_profile_text(PHONE)
    path.write_text("\n".join([*kept, *([] if value is None else [f"{key} = {value}"])]))


def test_what_is_written_is_read(path):
    path.write_text(lens_profile_text(PHONE), encoding="utf-8")
    assert read_lens_profile(path) == PHONE
    assert 'schema = "crossemetry.lens/1"' in path.read_text()
    assert [file.name for file in path.parent.iterdir()] == ["phone.toml"]


@pytest.mark.slow
@given(
    st.text(min_size=1).filter(lambda text: text.strip() and text.isprintable()),
    st.tuples(*[st.floats(-1, 1)] * 4),
    st.floats(1e-3, 1e5),
    st.dates(),
)
def test_every_profile_comes_back_as_it_was(tmp_path_factory, name, distortion, focal_px, day):
    path = tmp_path_factory.mktemp("lens") / "phone.toml"
    profile = phone(name=name, distortion=distortion, focal_px=(focal_px, focal_px), made_on=day)
    path.write_text(lens_profile_text(profile), encoding="utf-8")
    assert read_lens_profile(path) == profile


@pytest.mark.parametrize("name", ['a "b" \\ c', "tab\tnew\nline", "é 体 \x7f"])
def test_any_name_can_be_written(path, name):
    path.write_text(lens_profile_text(phone(name=name)), encoding="utf-8")
    assert read_lens_profile(path).name == name


def test_a_missing_key_is_named(path):
    for field in (*(field.name for field in dataclasses.fields(PHONE)), "schema"):
        changed(path, field, None)
        with pytest.raises(LensProfileError, match=rf"^phone\.toml: {field} is missing"):
            read_lens_profile(path)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("schema", '"crossemetry.lens/2"'),
        ("name", "7"), ("name", '" "'),
        ("width_px", "0"), ("width_px", "1920.0"), ("height_px", "true"), ("height_px", "-1080"),
        ("rotation_deg", "45"), ("rotation_deg", '"90"'),
        ("focal_px", "[0.0, 1500.0]"), ("focal_px", "[1500.0, -1.0]"), ("focal_px", "1500.0"),
        ("focal_px", "[1500.0]"), ("focal_px", "[nan, 1500.0]"), ("focal_px", "[inf, 1500.0]"),
        ("focal_px", '["1500", 1500.0]'), ("focal_px", "[true, 1500.0]"),
        ("u_focal_px", "[-0.1, 0.1]"), ("u_principal_px", "[0.1, 0.1, 0.1]"),
        ("principal_px", "[975.0]"), ("principal_px", "[-1.0, 531.0]"),
        ("principal_px", "[975.0, 1081.0]"),
        ("distortion", "[0.1, 0.0, 0.0]"), ("distortion", "[0.1, 0.0, 0.0, nan]"),
        ("u_distortion", "[0.1, 0.0, 0.0, -0.1]"),
        ("reprojection_px", "-0.1"), ("reprojection_px", "[0.1]"),
        ("n_views", "0"), ("n_views", "12.5"),
        ("made_on", '"2026-03-01"'), ("made_on", "2026-03-01T10:00:00"),
    ],
)  # fmt: skip
def test_a_value_that_cannot_be_meant_is_told_with_its_key(path, key, value):
    changed(path, key, value)
    with pytest.raises(LensProfileError, match=rf"^phone\.toml, {key}: "):
        read_lens_profile(path)


def test_an_unknown_key_is_told(path):
    path.write_text(lens_profile_text(PHONE) + "focal_mm = 4.2\n")
    with pytest.raises(LensProfileError, match=r"^phone\.toml, focal_mm: unknown key"):
        read_lens_profile(path)


@pytest.mark.parametrize("content", [b"name = ", b"\xff\xfe\x00", b"\x00\x00\x00\x18ftypmp42"])
def test_a_file_that_is_no_profile_is_told(path, content):
    path.write_bytes(content)
    with pytest.raises(LensProfileError, match=r"^phone\.toml: not a lens profile"):
        read_lens_profile(path)


def test_a_file_that_is_not_there_is_told(path):
    with pytest.raises(CrossemetryError, match=r"^phone\.toml: the lens profile cannot be read"):
        read_lens_profile(path)


def test_whole_numbers_will_do_where_numbers_are_asked_for(path):
    changed(path, "focal_px", "[1500, 1503]")
    assert read_lens_profile(path) == PHONE
