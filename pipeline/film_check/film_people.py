"""Finds the people in a few pictures of a film, with few runs of the pose model."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from pipeline.film.container import Picture
from pipeline.people.body import centre_px, length_px
from pipeline.people.detection import find_people, first_tiles, later_tiles
from pipeline.people.pose_model import Pose, PoseFinder, Window

N_SURVEYED = 2
"""Pictures that are searched all over; the others only where someone may be expected."""
MOST_PEOPLE = 4


def people_in(pictures: Sequence[Picture], finders: Sequence[PoseFinder]) -> list[list[Pose]]:
    """Find the people in each picture, the pictures shared out among the finders.

    Some pictures are surveyed: as a whole, in smaller tiles only while there is nobody, then in a
    row of tiles at the size of whoever was found. The others are searched until as many people are
    found in them as in those.

    Parameters
    ----------
    pictures
        Of one film, in order, (height, width, 3) each.
    finders
        One per thread; each should find two people or more in one tile.

    Returns
    -------
    list of list of Pose
        People in each picture, the largest first.
    """
    numbers = np.linspace(0, len(pictures) - 1, min(N_SURVEYED, len(pictures)) + 2)[1:-1]
    surveyed = sorted({round(number) for number in numbers.tolist()})
    people: dict[int, list[Pose]] = {}

    def survey(number: int, finder: PoseFinder) -> None:
        people[number] = _survey(pictures[number], finder)

    _share_out(survey, surveyed, finders)
    found = [pose for some in people.values() for pose in some]
    biggest = max(found, key=length_px) if found else None
    enough = max(map(len, people.values()))

    def follow(number: int, finder: PoseFinder) -> None:
        nearest = min(surveyed, key=lambda known: abs(known - number))
        like = people[nearest][0] if people[nearest] else biggest
        people[number] = [] if like is None else _follow(pictures[number], like, enough, finder)

    _share_out(follow, [n for n in range(len(pictures)) if n not in surveyed], finders)
    return [people[number] for number in range(len(pictures))]


def lie_on_side(pictures: Sequence[Picture], finder: PoseFinder) -> bool:
    """Tell whether there is somebody in the pictures when they are turned by a quarter."""
    some = pictures[:: max(len(pictures) // N_SURVEYED, 1)][:N_SURVEYED]
    turned = [np.ascontiguousarray(np.rot90(picture, k)) for picture in some for k in (1, 3)]
    return any(
        find_people(picture, first_tiles(picture.shape[1], picture.shape[0])[:1], [], finder)
        for picture in turned
    )


def _share_out(
    step: Callable[[int, PoseFinder], None], numbers: Sequence[int], finders: Sequence[PoseFinder]
) -> None:
    """Do a step for each number, each finder in a thread of its own."""

    def do(share: Sequence[int], finder: PoseFinder) -> None:
        for number in share:
            step(number, finder)

    with ThreadPoolExecutor(len(finders)) as pool:
        shares = [numbers[i :: len(finders)] for i in range(len(finders))]
        list(pool.map(do, shares, finders))


def _survey(rgb: Picture, finder: PoseFinder) -> list[Pose]:
    """Return everyone in a picture, the largest first."""
    height, width = rgb.shape[:2]
    tiles = first_tiles(width, height)
    people: list[Pose] = []
    for some in (tiles[:1], tiles[1:7], tiles[7:]):
        if not people:
            people = _search(rgb, some, people, 1, finder)
    if people:
        row = later_tiles(width, height, max(people, key=length_px))
        people = _search(rgb, row, people, MOST_PEOPLE, finder)
    return people


def _follow(rgb: Picture, like: Pose, enough: int, finder: PoseFinder) -> list[Pose]:
    """Return people at the height and of the size of another, those near it first looked for."""
    row = later_tiles(rgb.shape[1], rgb.shape[0], like)
    x_px = centre_px(like)[0]
    row.sort(key=lambda tile: abs(tile.left_px + 0.5 * tile.side_px - x_px))
    return _search(rgb, row, [], enough, finder)


def _search(
    rgb: Picture, tiles: Sequence[Window], known: list[Pose], enough: int, finder: PoseFinder
) -> list[Pose]:
    """Search tiles until enough people are known; returns all of them, the largest first."""
    people = list(known)
    for tile in tiles:
        if len(people) >= enough:
            break
        people += find_people(rgb, [tile], people, finder)
    return sorted(people, key=length_px, reverse=True)
