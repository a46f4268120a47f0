"""A track that went over to another's body in contact is cut where the jersey changes."""

import numpy as np
import pytest

from pipeline.people.roles import choose_roles, cut_at_identity_swaps
from pipeline.people.track import PersonTrack, RawTrack
from tests.fixtures.standing import standing

YELLOW, ORANGE = np.array([126.0, 65.0, 84.0]), np.array([137.0, 18.0, 84.0])
CONTACT = range(50, 60)
EXCHANGED = 55
TIMES_S = np.arange(120) / 30


def record(x_px, colour):
    track = RawTrack()
    for i in range(120):
        track.add(i, (standing(x_px(i), 200, 120.0), colour(i)), overlapped=i in CONTACT)
    return track


def first_then(before, after):
    return lambda i: before if i < EXCHANGED else after


def exchanged(left=YELLOW, right=ORANGE):
    """Two records that went over to each other's bodies when the bodies met and parted again."""
    runner = record(lambda i: 300.0 if i < EXCHANGED else 500.0, first_then(left, right))
    guard = record(lambda i: 320.0 if i < EXCHANGED else 280.0, first_then(right, left))
    return [runner, guard]


def test_an_exchange_is_cut_at_the_frame_in_which_the_jersey_changes():
    pieces = cut_at_identity_swaps([PersonTrack.of(track) for track in exchanged()])
    assert sorted((int(p.frames[0]), int(p.frames[-1])) for p in pieces) == [
        (0, EXCHANGED - 1),
        (0, EXCHANGED - 1),
        (EXCHANGED, 119),
        (EXCHANGED, 119),
    ]


def test_the_pieces_come_back_to_whom_they_belong_to():
    tracks = choose_roles(exchanged(), TIMES_S, athlete_at=(300.0, 200.0))
    hips_x = tracks.image_px[:, :, [23, 24], 0].mean(axis=2)
    assert hips_x[0, [40, 80]] == pytest.approx([300, 280])
    assert hips_x[1, [40, 80]] == pytest.approx([320, 500])


@pytest.mark.parametrize(
    "tracks",
    [
        exchanged(YELLOW, YELLOW + 10.0),
        [record(lambda i: 300.0, first_then(YELLOW, YELLOW - (40.0, 0.0, 40.0)))],
    ],
    ids=["jerseys alike", "shade, and nobody else about"],
)
def test_without_the_jersey_of_someone_else_nothing_is_cut(tracks):
    assert len(cut_at_identity_swaps([PersonTrack.of(track) for track in tracks])) == len(tracks)
