import numpy as np
import pytest

from pipeline.core.types import JOINTS
from pipeline.report.pictures import rep_picture
from pipeline.report.pictures.rep_picture import (
    WIDEST_PX,
    DrawnMeasure,
    draw_rep_picture,
    encode_jpeg,
)


def height_mark(joints, text="1.71 m"):
    return DrawnMeasure(
        start_px=tuple(joints[0, JOINTS.index("right_heel")]),
        stop_px=tuple(joints[0, JOINTS.index("right_hand")]),
        text=text,
        kind="height",
    )


def close_to(picture, colour):
    return np.abs(picture.astype(int) - colour).max(axis=2) < 30


@pytest.mark.slow
def test_the_picture_is_cut_out_around_the_people_and_not_too_wide(film):
    frame, joints = film(3840, 2160, people=((1000, 2000, 1500), (2900, 2000, 1500)))
    picture = draw_rep_picture(frame, joints, [])
    assert picture.shape[1] <= WIDEST_PX
    assert picture.dtype == np.uint8


def test_a_small_player_is_shown_larger(film):
    frame, joints = film(960, 540, people=((480, 400, 120),))
    picture = draw_rep_picture(frame, joints, [])
    assert picture.shape[1] < 960
    assert picture.shape[0] > 300


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["height", "ground", "step", "span", "point"])
def test_a_mark_is_drawn_and_the_film_is_left_as_it_was(film, kind):
    frame, joints = film()
    before = frame.copy()
    mark = DrawnMeasure(start_px=(560, 600), stop_px=(760, 590), text="1.05 m", kind=kind)
    colour = rep_picture._COLOURS[kind]
    drawn = close_to(draw_rep_picture(frame, joints, [mark]), colour).sum()
    plain = close_to(draw_rep_picture(frame, joints, []), colour).sum()
    assert drawn > plain + 100
    assert (frame == before).all()


def test_a_step_is_an_arrow_to_where_it_ends():
    picture = np.zeros((100, 400, 3), np.uint8)
    rep_picture._draw_line(picture, (50, 50), (350, 50), "step", 3)
    drawn = close_to(picture, rep_picture._COLOURS["step"])
    tall = drawn.sum(axis=0)
    assert 300 < int(np.argmax(tall)) < 350  # the head is the widest part, and at its end
    assert tall[45:56].max() > tall[150]  # a dot where it begins


def test_a_mark_whose_end_is_unknown_is_left_out(film):
    frame, joints = film()
    mark = DrawnMeasure(
        start_px=(560, float("nan")), stop_px=(760, 590), text="1.05 m", kind="ground"
    )
    drawn = draw_rep_picture(frame, joints, [mark])
    assert (drawn == draw_rep_picture(frame, joints, [])).all()


def test_texts_do_not_cover_each_other(film):
    frame, joints = film()
    marks = [height_mark(joints, text) for text in ("1.71 m", "1.72 m", "1.73 m")]
    one = close_to(draw_rep_picture(frame, joints, marks[:1]), (18, 24, 28)).sum()
    three = close_to(draw_rep_picture(frame, joints, marks), (18, 24, 28)).sum()
    assert three > 2 * one


def test_a_caption_is_added_below(film):
    frame, joints = film()
    plain = draw_rep_picture(frame, joints, [])
    captioned = draw_rep_picture(frame, joints, [], caption="Rep 1 at 2.43 s, hands high")
    assert captioned.shape[0] > plain.shape[0]
    assert (captioned[: plain.shape[0]] == plain).all()


def test_faces_are_hidden_unless_asked_for(film):
    frame, joints = film()
    hidden = draw_rep_picture(frame, joints, [])
    shown = draw_rep_picture(frame, joints, [], hide_faces=False)
    eye = (0, 0, 0)
    # Outlines of the drawing are as dark as an eye and are in both.
    assert close_to(hidden, eye).sum() < close_to(shown, eye).sum() - 50


def test_nobody_known_is_still_a_picture(film):
    frame, joints = film()
    picture = draw_rep_picture(frame, np.full_like(joints, np.nan), [])
    assert picture.shape[1] == WIDEST_PX


def test_joints_far_outside_the_frame_do_not_matter(film):
    frame, joints = film()
    joints = joints.copy()
    joints[1] += 1e7
    assert draw_rep_picture(frame, joints, [height_mark(joints)]).size > 0


def test_only_pictures_are_encoded():
    with pytest.raises(ValueError, match="must be"):
        encode_jpeg(np.zeros((4, 4), np.uint8))
