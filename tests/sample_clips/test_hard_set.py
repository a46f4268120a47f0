"""The set of difficulties: one at a time, all else equal, and every kind of player in each seed."""

from dataclasses import replace

import numpy as np
import pytest

from sample_clips.render.framing import (
    LEAST_MARKS,
    camera_of,
    holds_all,
    marks_in_picture,
    pulled_back,
    scene_of,
    upright,
)
from sample_clips.render.sets import table

SEEDS = range(1, 7)
DIFFICULTIES = {
    "plain",
    "motion_blur",
    "rolling_shutter",
    "shake",
    "low_light",
    "compression",
    "portrait",
    "uneven_times",
    "passer_by",
    "distortion",
    "other_body",
}


def by_move(seed):
    moves = {}
    for clip in table("hard", seed):
        moves.setdefault(clip.move, {})[clip.hardship.name] = clip
    return moves


def test_a_seed_decides_the_clips():
    assert table("hard", 3) == table("hard", 3)
    assert table("hard", 3) != table("hard", 4)


@pytest.mark.parametrize("seed", SEEDS)
def test_every_move_has_each_difficulty_once_and_the_plain_clips_come_first(seed):
    clips = table("hard", seed)
    assert len({clip.name for clip in clips}) == len(clips)
    assert [clip.hardship.name for clip in clips[:3]] == ["plain"] * 3
    moves = by_move(seed)
    assert set(moves) == {"high_to_low_shot", "throwback_pass", "close_gap_dodge"}
    assert all(set(clips) == DIFFICULTIES for clips in moves.values())
    for clip in clips:
        assert clip.name == f"hard_{seed}_{clip.move}_{clip.hardship.name}"


@pytest.mark.parametrize("seed", SEEDS)
def test_all_but_the_difficulty_is_that_of_the_plain_clip(seed):
    for clips in by_move(seed).values():
        plain = clips.pop("plain")
        other = clips.pop("other_body")
        for name, clip in clips.items():
            same = {"name": plain.name, "hardship": plain.hardship}
            same |= {"crf": plain.crf} if name == "compression" else {}
            same |= {"size_px": plain.size_px} if name == "portrait" else {}
            assert replace(clip, **same) == plain
        assert other.view == plain.view
        assert (other.order.seed, other.order.sizes) == (plain.order.seed, plain.order.sizes)
        assert other.order.stick_hand != plain.order.stick_hand
        assert other.level != plain.level


@pytest.mark.parametrize("seed", SEEDS)
def test_six_athletes_youth_and_adult_of_both_sexes_and_hands(seed):
    clips = [c for clips in by_move(seed).values() for c in (clips["plain"], clips["other_body"])]
    assert len({clip.athlete.stature_m for clip in clips}) >= 4
    assert len(clips) == 6
    assert {clip.level for clip in clips} == {"youth", "adult"}
    assert {clip.athlete.shape["gender"] > 0.5 for clip in clips} == {True, False}
    assert {clip.order.stick_hand for clip in clips} == {"left", "right"}
    assert {clip.fps for clip in clips} == {30, 60}
    for clip in clips:
        jerseys = [p.clothes.jersey for p in (clip.athlete, clip.defender) if p is not None]
        assert len(set(jerseys)) == len(jerseys)


@pytest.mark.parametrize("seed", SEEDS)
def test_both_ways_to_store_portrait_and_both_sides_of_the_players_occur(seed):
    moves = by_move(seed).values()
    assert {clips["portrait"].hardship.stored_turn_deg for clips in moves} == {90, 270}
    assert {clips["passer_by"].hardship.passer_by.before for clips in moves} == {True, False}


@pytest.mark.parametrize("seed", SEEDS)
def test_enough_marks_lie_in_the_picture(seed):
    for clip in table("hard", seed):
        if clip.hardship.name != "portrait":
            assert len(marks_in_picture(scene_of(clip), camera_of(clip))) >= LEAST_MARKS


def test_portrait_goes_back_until_everything_fits():
    clip = upright(table("hard", 1)[0])
    near = camera_of(clip)
    x, y = clip.centre_m()
    # Two points at the sides that are outside at first.
    aside = near.rotation[0] * 3.0
    middle = np.array([x, y, 1.0])
    points = [(middle + aside)[None], (middle - aside)[None]]
    assert not holds_all(near, points)
    far = pulled_back(clip, points)
    assert holds_all(far, points)
    assert len(marks_in_picture(scene_of(clip), far)) >= LEAST_MARKS
    with pytest.raises(ValueError, match="do not fit"):
        pulled_back(clip, [(middle + 20 * aside)[None]])
