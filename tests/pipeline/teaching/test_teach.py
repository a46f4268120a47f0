"""From the picture of a stick figure to a drill, and from the drill to its measured reps."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from pipeline.analysis import analyse_tracks
from pipeline.core.errors import DrillError
from pipeline.core.types import Clip
from pipeline.measures import MEASURES, measures_of
from pipeline.scene.placed_clip import place_people
from pipeline.settings.settings import AnalysisSettings
from pipeline.targets.load import load_targets
from pipeline.teaching.drill_examples import Marked
from pipeline.teaching.teach import hand_of_examples, teach_from
from tests.fixtures.drilling import RELEASES_S, WINDOWS_S, drill_player
from tests.fixtures.walker import SIZE_PX, STATURE_M, camera_at, together, tracks_of

SETTINGS = AnalysisSettings(stature_m=STATURE_M, move="lift")
MARKED = Marked(windows_s=WINDOWS_S[:3], events_s={"release": RELEASES_S[:3]})


def clip_of(player):
    return Clip(
        path=Path("invented.mp4"), digest="0" * 64, width_px=SIZE_PX[0], height_px=SIZE_PX[1],
        rotation_deg=0, mirrored=False, time_s=player.time_s,
    )  # fmt: skip


@cache
def seen():
    player = drill_player()
    tracks = together(tracks_of(player.joints_m, camera_at(), 1.1))
    return place_people(clip_of(player), tracks, SETTINGS, None, None)


@cache
def taught(like=None):
    return teach_from(
        "lift", seen(), MARKED, given_hand=None, like=like, taught_by="me", taught_on="2026-03-01"
    )


def taught_with(**changes):
    return teach_from(
        "lift", seen(), replace(MARKED, **changes), given_hand=None, like=None, taught_by="",
        taught_on="",
    )  # fmt: skip


def analysed(drill, hand="left", releases_s=(2.2, 5.6, 9.1)):
    player = drill_player(hand, releases_s)
    tracks = together(tracks_of(player.joints_m, camera_at(height_m=1.6), 1.1))
    settings = replace(SETTINGS, move=drill.name)
    return analyse_tracks(clip_of(player), tracks, settings, load_targets(None), drill=drill)


@pytest.mark.slow
def test_it_finds_its_examples_again_and_the_rep_that_was_not_marked():
    drill = taught().drill
    assert (drill.hand, len(drill.examples), drill.taught_by) == ("right", 3, "me")
    assert taught().again == 3
    assert [rep.start_s for rep in taught().elsewhere] == pytest.approx([WINDOWS_S[3][0]], abs=0.15)


@pytest.mark.slow
def test_what_can_be_measured_in_the_examples_is_measured():
    keys = taught().drill.measures
    assert "release_height_m" in keys
    assert "cushion_m" not in keys  # nobody else is in the film
    assert "plant_to_release_s" not in keys  # no plant was marked
    assert list(keys) == [key for key in MEASURES if key in keys]


@pytest.mark.slow
def test_its_reps_are_found_by_another_hand_and_camera_and_measured():
    analysis = analysed(taught().drill)
    assert analysis.move == "lift"
    assert [result.rep.stick_hand for result in analysis.reps] == ["left"] * 3
    for result, release_s in zip(analysis.reps, (2.2, 5.6, 9.1), strict=True):
        event = result.rep.events["release"]
        assert event.time_s == pytest.approx(release_s, abs=0.07)
        assert 0.0 < event.u_s < 0.1
        assert list(result.measurements) == list(taught().drill.measures)
        assert result.measurements["release_height_m"].value is not None
        assert result.feedback


@pytest.mark.slow
def test_a_drill_like_a_move_has_its_events_and_measures():
    drill = replace(taught("high_to_low_shot").drill, event_u_s={})
    assert drill.measures == tuple(info.key for info in measures_of("high_to_low_shot"))
    analysis = analysed(drill, "right")
    for result in analysis.reps:
        events = result.rep.events
        assert list(events) == sorted(events, key=lambda name: events[name].time_s)
        assert {"hands_high", "release"} <= set(events)
        assert result.measurements["hand_drop_m"].value is not None


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"windows_s": WINDOWS_S[:2]}, "2 reps are marked"),
        ({"windows_s": (*WINDOWS_S[:2], (20.0, 22.0))}, "not in the clip"),
        ({"windows_s": (*WINDOWS_S[:2], (8.0, 8.1))}, "takes 0.1 s"),
        ({"windows_s": (WINDOWS_S[1], WINDOWS_S[0], WINDOWS_S[2])}, "starts before"),
        ({"events_s": {"release": (2.0, 2.1)}}, "has one already"),
        ({"events_s": {"release": (2.0, 3.5)}}, "none of the reps"),
        ({"events_s": {"release": (2.0,)}}, "in one rep only"),
    ],
)
def test_marks_from_which_nothing_can_be_learned_are_refused(changes, said):
    with pytest.raises(DrillError, match=said):
        taught_with(**changes)


def test_a_drill_to_either_side_with_one_hand_does_not_tell_the_hand():
    examples = taught().drill.examples
    assert hand_of_examples(examples, ["right", "right", None]) == "right"
    turned = (examples[0], replace(examples[1], turned=True), examples[2])
    assert hand_of_examples(turned, ["right", "left", "right"]) == "right"
    assert hand_of_examples(turned, ["right", "right", "right"]) is None


def test_a_mark_that_is_not_like_the_others_is_pointed_out():
    assert taught().unlike == ()
    still_s = (9.3, 11.1)
    odd = taught_with(windows_s=(*WINDOWS_S[:2], still_s), events_s={})
    assert odd.unlike == (still_s,)


def test_reps_in_which_nobody_was_seen_are_refused():
    player = drill_player()
    tracks = together(tracks_of(player.joints_m, camera_at(), 1.1))
    image_px = tracks.image_px.copy()
    image_px[:, (player.time_s > 4.2) & (player.time_s < 5.7)] = np.nan
    hidden = place_people(clip_of(player), replace(tracks, image_px=image_px), SETTINGS, None, None)
    with pytest.raises(DrillError, match="hardly seen"):
        teach_from(
            "lift", hidden, MARKED, given_hand=None, like=None, taught_by="", taught_on=""
        )  # fmt: skip
