import pytest

from pipeline.core.errors import SettingsError
from pipeline.core.messages import shipped
from pipeline.settings.side_file import _KINDS, read_side_file


@pytest.fixture
def clip(tmp_path):
    return tmp_path / "wall ball.mp4"


def write(clip, text):
    clip.with_name(clip.stem + ".clip.toml").write_text(text, encoding="utf-8")


def test_no_side_file_says_nothing(clip):
    side = read_side_file(clip)
    assert side.path is None
    assert side.stature_m is None


def test_everything_is_read(clip):
    write(
        clip,
        'invented = true\nstature_m = 2\nmove = "close_gap_dodge"\nlevel = "school"\n'
        'stick_hand = "left"\nnote = "dusk"\nathlete = " 7 "\narm_length_m = 0.8\n'
        'lens = "phone.toml"\nmarks = "m.toml"\nage_years = 12\n',
    )
    side = read_side_file(clip)
    assert (side.stature_m, side.move, side.level) == (2, "close_gap_dodge", "school")
    assert (side.athlete, side.arm_length_m) == ("7", 0.8)
    assert side.age_years == 12
    assert side.lens_path == clip.parent / "phone.toml"
    assert side.marks_path == clip.parent / "m.toml"
    assert (side.stick_hand, side.invented, side.note) == ("left", True, "dusk")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("invented = true\nstatur_m = 1.8", "line 2, statur_m: unknown key.*stature_m"),
        ("stature_m = 180", r"line 1, stature_m 180: .*e\.g\. 1\.80"),
        ('stature_m = "1.80"', "line 1, stature_m: .*a number"),
        ("age_years = 2013", "line 1, age_years 2013: .*e\\.g\\. 12"),
        ('age_years = "12"', "line 1, age_years: .*a number"),
        ("stature_m = true", "line 1, stature_m: .*a number"),
        ("invented = 1", "line 1, invented: .*true or false"),
        ('move = "throwback"', "line 1, move.*throwback_pass"),
        ('level = "adlut"', "line 1, level.*adult"),
        ('\nstick_hand = "both"', "line 2, stick_hand.*left"),
        ("arm_length_m = 80", "line 1, arm_length_m: .*shoulder to the finger tip"),
        ("arm_length_m = nan", "line 1, arm_length_m: nan is not"),
        ("athlete = 7", "line 1, athlete: .*name or a code in quotes"),
        ('athlete = " "', "line 1, athlete: not a name"),
        ("marks = 4", "line 1, marks: .*file of marks"),
        ("lens = 65", "line 1, lens: .*lens profile"),
        ("stature_m = ", "wall ball.clip.toml, line 1"),
    ],
)
def test_mistakes_name_file_line_and_key(clip, text, says):
    write(clip, text)
    with pytest.raises(SettingsError, match=says) as caught:
        read_side_file(clip)
    assert str(caught.value).startswith("wall ball.clip.toml")


def test_a_mistake_is_told_in_the_language_that_is_read(clip):
    write(clip, "stature_m = 180")
    with pytest.raises(SettingsError) as caught:
        read_side_file(clip)
    said = caught.value.translate(shipped("es"))
    assert "línea 1, stature_m 180: no es una estatura entre 0,8 y 2,4 m." in said
    write(clip, 'statura_m = "1.80"')
    with pytest.raises(SettingsError) as caught:
        read_side_file(clip)
    assert "clave desconocida. ¿Querías decir stature_m?" in caught.value.translate(shipped("es"))


def test_of_every_entry_it_is_said_what_it_must_be():
    assert set(shipped("en").table["clip_entries"]) == set(_KINDS)
