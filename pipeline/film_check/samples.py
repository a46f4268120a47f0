"""Samples a few pictures of a film: the people in them, light, sharpness, and the camera."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, closing
from dataclasses import astuple, dataclass
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

import models
from pipeline.core.types import FloatArray
from pipeline.film.camera_motion import StillnessWatch
from pipeline.film.container import Picture
from pipeline.film.sampling import N_MOMENTS, FilmClock, Moment, read_moments
from pipeline.film_check.picture_quality import PictureQuality, quality_around, region_quality
from pipeline.people.body import centre_px, jersey_colour, length_px
from pipeline.people.cache import TrackCache, cache_key
from pipeline.people.detection import find_people, first_tiles, later_tiles
from pipeline.people.pose_model import N_LANDMARKS, Pose, PoseFinder, PoseModel, Window

N_SURVEYED = 2
"""Pictures that are searched all over; the others only where someone may be expected."""
MOST_PEOPLE = 4

CHECK_MODEL = "full"
"""Pose model of the film check, whatever model measures: it has to answer in seconds, and its
limits were set on what this one finds."""


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


N_WORKERS = 2
HARDLY = 1 / 3
"""People in no more looks than this may be mistakes, in a film that lies on its side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenBody:
    """One person in one picture.

    Attributes
    ----------
    pose
        Landmarks.
    colour
        (3,) of the jersey, see `bodies.jersey_colour`.
    quality
        Of the picture around the body.
    """

    pose: Pose
    colour: FloatArray
    quality: PictureQuality

    @property
    def image_px(self) -> FloatArray:
        """(33, 2) landmarks in the image frame."""
        return self.pose.image_px

    @property
    def world_m(self) -> FloatArray:
        """(33, 3) the model's metric landmarks."""
        return self.pose.world_m


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One picture that was looked at.

    Attributes
    ----------
    time_s
        From the first picture, in the file's own time.
    bodies
        Everyone who was found in it, largest first.
    quality
        Of the whole picture.
    """

    time_s: float
    bodies: tuple[SeenBody, ...]
    quality: PictureQuality


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmSamples:
    """Everything that a film check judges.

    Attributes
    ----------
    width_px, height_px
        Size of the upright picture.
    rotation_deg
        Clockwise turn that made it upright.
    clock
        Times of the pictures, in the file's own time.
    looks
        In order of time.
    camera_shift_px
        (n_looks, 4, 2) as in `Tracks`, one row per look.
    lies_on_side
        Whether hardly anyone was found until the picture was turned by a quarter.
    """

    width_px: int
    height_px: int
    rotation_deg: int
    clock: FilmClock
    looks: tuple[Look, ...]
    camera_shift_px: FloatArray
    lies_on_side: bool = False


def read_film_samples(path: Path, *, digest: str, model_path: Path, cache_dir: Path) -> FilmSamples:
    """Give what a few looks at a clip show: as kept, else by the pose model.

    Parameters
    ----------
    path, digest
        The film, and the SHA-256 of its bytes.
    model_path
        The bundle of the pose model.
    cache_dir
        Where they are kept.

    Raises
    ------
    ClipError
        The file cannot be used.
    ModelError
        The pose model cannot be used.
    """
    model_digest = models.verify(model_path)
    cache, key = TrackCache(cache_dir), cache_key(digest, model_digest, {"looks": N_MOMENTS})
    kept = cache.load_arrays(key)
    if kept is not None:
        try:
            return from_arrays(kept)
        except (KeyError, ValueError, TypeError):
            pass  # of another form: as good as not there
    samples = sample_film(path, PoseModel(model_path))
    cache.save_arrays(key, as_arrays(samples), clip_digest=digest)
    return samples


def sample_film(path: Path, model: PoseModel) -> FilmSamples:
    """Look at a few pictures of a film.

    Parameters
    ----------
    path
        The film.
    model
        The pose model.

    Raises
    ------
    UnreadableClip, EmptyClip, NoPictureStream
        If the file holds no film that can be decoded.
    ModelError
        If the pose model does not start.
    """
    clock, moments, orientation = read_moments(path)
    height, width = moments[0].rgb.shape[:2]
    with ExitStack() as stack:
        finders = [
            stack.enter_context(closing(model.finder(n_poses=2)))
            for _ in range(min(N_WORKERS, len(moments)))
        ]
        pictures = [moment.rgb for moment in moments]
        people = people_in(pictures, finders)
        n_with_people = sum(map(bool, people))
        on_side = n_with_people <= HARDLY * len(people) and lie_on_side(pictures, finders[0])
    return FilmSamples(
        width_px=width,
        height_px=height,
        rotation_deg=orientation.rotation_deg,
        clock=clock,
        looks=tuple(
            Look(
                time_s=moment.time_s,
                bodies=tuple(_seen(moment.rgb, pose) for pose in found),
                quality=region_quality(np.ascontiguousarray(moment.rgb[::2, ::2, 1])),
            )
            for moment, found in zip(moments, people, strict=True)
        ),
        camera_shift_px=_camera_shift_px(moments, people),
        lies_on_side=on_side,
    )


def _seen(rgb: Picture, pose: Pose) -> SeenBody:
    return SeenBody(
        pose=pose,
        colour=jersey_colour(rgb, pose),
        quality=quality_around(rgb, pose.image_px),
    )


def _camera_shift_px(moments: Sequence[Moment], people: Sequence[Sequence[Pose]]) -> FloatArray:
    """(n_looks, 4, 2) movement of the background from the first look to each."""
    watch = StillnessWatch()
    for number, (moment, found) in enumerate(zip(moments, people, strict=True)):
        bodies_px = np.array([pose.image_px for pose in found]).reshape(-1, 33, 2)
        watch.see(moment.rgb, number, moment.time_s, bodies_px)
    return watch.shift_px(len(moments))


def as_arrays(samples: FilmSamples) -> dict[str, npt.NDArray[Any]]:
    """Give samples as named arrays, to be kept in a file."""
    bodies = [body for look in samples.looks for body in look.bodies]
    clock = samples.clock
    return {
        "facts": np.array(
            [samples.width_px, samples.height_px, samples.rotation_deg, samples.lies_on_side,
             clock.duration_s, clock.indexed], float,
        ),
        "clock_s": clock.time_s,
        "is_key": clock.is_key,
        "looks_s": np.array([look.time_s for look in samples.looks]),
        "looks_quality": np.array([astuple(look.quality) for look in samples.looks]),
        "n_bodies": np.array([len(look.bodies) for look in samples.looks]),
        "image_px": np.array([body.image_px for body in bodies]).reshape(-1, N_LANDMARKS, 2),
        "world_m": np.array([body.world_m for body in bodies]).reshape(-1, N_LANDMARKS, 3),
        "visibility": np.array([body.pose.visibility for body in bodies]).reshape(-1, N_LANDMARKS),
        "colour": np.array([body.colour for body in bodies]).reshape(-1, 3),
        "quality": np.array([astuple(body.quality) for body in bodies]).reshape(-1, 5),
        "camera_shift_px": samples.camera_shift_px,
    }  # fmt: skip


def from_arrays(arrays: Mapping[str, npt.NDArray[Any]]) -> FilmSamples:
    """Give back samples from `as_arrays`; raises ``KeyError`` or ``ValueError`` if they are not."""
    width, height, rotation, on_side, duration_s, indexed = arrays["facts"].tolist()
    names = ("brightness", "contrast", "white_share", "noise", "edge_px")

    def quality(row: npt.NDArray[Any]) -> PictureQuality:
        return PictureQuality(**dict(zip(names, row.tolist(), strict=True)))

    bodies = iter(
        [
            SeenBody(pose=Pose(image, world, visibility), colour=colour, quality=quality(row))
            for image, world, visibility, colour, row in zip(
                *(arrays[n] for n in ("image_px", "world_m", "visibility", "colour", "quality")),
                strict=True,
            )
        ]
    )
    return FilmSamples(
        width_px=int(width),
        height_px=int(height),
        rotation_deg=int(rotation),
        clock=FilmClock(
            time_s=arrays["clock_s"],
            is_key=arrays["is_key"],
            duration_s=duration_s,
            indexed=bool(indexed),
        ),
        looks=tuple(
            Look(time_s=time_s, bodies=tuple(islice(bodies, n)), quality=quality(row))
            for time_s, n, row in zip(
                arrays["looks_s"].tolist(),
                arrays["n_bodies"].tolist(),
                arrays["looks_quality"],
                strict=True,
            )
        ),
        camera_shift_px=arrays["camera_shift_px"],
        lies_on_side=bool(on_side),
    )
