"""Facts from a few sampled frames: who is in the film, how large, where they run and face."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pipeline.core.types import JOINTS, LANDMARKS, FloatArray
from pipeline.film_check.samples import CHECK_MODEL, FilmSamples, SeenBody
from pipeline.people.body import colour_distance, length_px
from pipeline.people.smoothing import joints_from_landmarks
from pipeline.scene.calibration_samples import body_size_px

ALIKE_COLOUR = 45.0
"""As for people who are followed: jerseys that differ by less, of 255, may be one."""
REGULAR_SHARE = 0.5
"""Someone in a smaller part of the looks than this, or less than half as large, passes by."""
LARGE_SHARE = 0.5
EDGE_PX = 2.0
"""A point nearer to the picture's edge than this may lie beyond it."""
FEWEST_LOOKS = 3
"""Fewer samples than this show no habit."""
SHORTEST_RUN = 0.9
"""Statures by which someone must have moved between samples for a known direction: about twice
what an error of 5 % in the size of the body makes of the distance at 8 m."""

STANCE_DEG = 28.0
"""How far the chest is turned away from the aim in a thrower's stance, as the pose model has it:
the median over rendered shots, with a standard deviation of 8 degrees."""
STEADY_FACING = 0.7
"""Length of the mean of unit vectors; a thrower who faces all ways has no aim."""

FEET = tuple(LANDMARKS.index(f"{s}_{p}") for s in ("left", "right") for p in ("heel", "toe"))
HANDS = tuple(
    LANDMARKS.index(f"{s}_{p}") for s in ("left", "right") for p in ("wrist", "index_finger")
)
WRISTS = (LANDMARKS.index("left_wrist"), LANDMARKS.index("right_wrist"))
HEAD = tuple(LANDMARKS.index(name) for name in ("nose", "left_ear", "right_ear"))


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonFacts:
    """One person over the looks in which they were found.

    Attributes
    ----------
    looks
        (n,) numbers of those looks.
    height_px
        (n,) what the stature would measure in the picture.
    cut_off
        Shares of the looks in which feet, hands or head lie beyond the picture's edge.
    room_above
        (n,) room between the top of the head and the upper edge, in statures.
    lean_deg
        (n,) lean of the line from the feet to the shoulders in the picture, to the right is plus.
    bodies
        (n,) as seen.
    """

    looks: tuple[int, ...]
    height_px: FloatArray
    cut_off: dict[str, float]
    room_above: FloatArray
    lean_deg: FloatArray
    bodies: tuple[SeenBody, ...]


def people_of(
    samples: FilmSamples, athlete_at: tuple[float, float] | None = None
) -> list[PersonFacts]:
    """Say who is who by jersey and place, those who move most first, passers-by left out.

    Parameters
    ----------
    samples
        What the looks show.
    athlete_at
        (x, y) px where the athlete stands at first, who then comes first.

    Returns
    -------
    list of PersonFacts
        The first is the athlete. Empty when nobody was found.
    """
    chains: list[list[tuple[int, SeenBody]]] = []
    for number, look in enumerate(samples.looks):
        free = [chain for chain in chains if chain[-1][0] < number]
        pairs = sorted(
            ((_unlike(body, chain[-1][1]), i, j) for i, body in enumerate(look.bodies)
             for j, chain in enumerate(free)),
        )  # fmt: skip
        taken: set[int] = set()
        given: set[int] = set()
        for unlike, i, j in pairs:
            if i not in given and j not in taken and unlike < 1.0:
                free[j].append((number, look.bodies[i]))
                given.add(i)
                taken.add(j)
        chains += [[(number, b)] for i, b in enumerate(look.bodies) if i not in given]
    if not chains:
        return []
    most = max(map(len, chains))
    largest = max(_length(chain[-1][1]) for chain in chains if len(chain) == most)
    regular = [
        chain
        for chain in chains
        if len(chain) >= REGULAR_SHARE * most
        and np.median([_length(body) for _, body in chain]) >= LARGE_SHARE * largest
    ]
    regular.sort(key=lambda chain: (-len(chain) // 2, -_way(chain)))
    if athlete_at is not None:
        regular.sort(key=lambda chain: _off(chain[0][1], athlete_at))
    return [_person(chain, samples) for chain in regular]


def ground_path(person: PersonFacts, samples: FilmSamples, focal_px: float) -> FloatArray:
    """(n, 2) place of the hips to the right and away from the camera, in statures."""
    away = focal_px / person.height_px
    hips = np.array([_middle(body.image_px, "hip")[0] for body in person.bodies])
    return np.stack([(hips - 0.5 * samples.width_px) / focal_px * away, away], axis=1)


def running_view_deg(path: FloatArray) -> float:
    """Angle between the line along which someone ran and the line of sight, 0 to 90 deg.

    Parameters
    ----------
    path
        (n, 2) as from `ground_path`.

    Returns
    -------
    float
        90 = seen from the side; NaN when the run was too short.
    """
    if len(path) < FEWEST_LOOKS:
        return math.nan
    offset = path - path.mean(axis=0)
    _, _, axes = np.linalg.svd(offset, full_matrices=False)
    along = offset @ axes[0]
    if np.ptp(along) < SHORTEST_RUN:
        return math.nan
    sight = path.mean(axis=0)
    cosine = abs(float(axes[0] @ sight)) / float(np.linalg.norm(sight))
    return math.degrees(math.acos(min(cosine, 1.0)))


def facing_deg(person: PersonFacts) -> FloatArray:
    """(n,) where the chest faces: 0 towards the camera, 90 to the right in the picture, 180 away.

    From the shoulders in the model's metric landmarks; signed, -180 to 180.
    """
    left = np.array([body.world_m[LANDMARKS.index("left_shoulder")] for body in person.bodies])
    right = np.array([body.world_m[LANDMARKS.index("right_shoulder")] for body in person.bodies])
    across = left - right  # facing the camera (at -z), the left shoulder is at the right: +x
    return np.asarray(np.degrees(np.arctan2(across[:, 2], across[:, 0])))


def throw_view_deg(person: PersonFacts) -> float:
    """Angle between the line of a thrower's aim and the line of sight, 0 to 90 deg.

    Told from the stance: the chest faces `STANCE_DEG` away from the aim, to the side of the top
    hand, which is the higher one most of the time.

    Parameters
    ----------
    person
        A thrower.

    Returns
    -------
    float
        90 = seen from the side; NaN when the stance does not show it.
    """
    if len(person.bodies) < FEWEST_LOOKS:
        return math.nan
    facing = np.exp(1j * np.radians(facing_deg(person)))
    if abs(facing.mean()) < STEADY_FACING:
        return math.nan
    down_m = [[body.world_m[row, 1] for row in WRISTS] for body in person.bodies]
    left_above = float(np.median([right - left for left, right in down_m]))
    aim = math.degrees(np.angle(facing.mean())) + math.copysign(STANCE_DEG, -left_above)
    folded = abs(aim) % 180.0
    return min(folded, 180.0 - folded)


def _unlike(a: SeenBody, b: SeenBody) -> float:
    """How unlike two bodies are by jersey and size; 1 or more = not the same person."""
    size = abs(math.log(_length(a) / _length(b))) / math.log(1.8)
    return max(colour_distance(a.colour, b.colour) / ALIKE_COLOUR, size)


def _off(body: SeenBody, place_px: tuple[float, float]) -> float:
    return float(np.linalg.norm(_middle(body.image_px, "hip") - place_px))


def _length(body: SeenBody) -> float:
    return length_px(body.pose)


def _way(chain: Sequence[tuple[int, SeenBody]]) -> float:
    """How far someone moved about in the looks, in body lengths."""
    middles = np.array([_middle(body.image_px, "hip") for _, body in chain])
    lengths = np.array([_length(body) for _, body in chain])
    across = np.linalg.norm(np.ptp(middles, axis=0)) / np.median(lengths)
    return float(across + 4.0 * np.ptp(np.log(lengths)))


def _middle(points: FloatArray, part: str) -> FloatArray:
    rows = [LANDMARKS.index(f"{side}_{part}") for side in ("left", "right")]
    return np.asarray(points[rows].mean(axis=0))


def _person(chain: Sequence[tuple[int, SeenBody]], samples: FilmSamples) -> PersonFacts:
    bodies = tuple(body for _, body in chain)
    landmarks = np.array([body.image_px for body in bodies], float)
    joints = joints_from_landmarks(landmarks)
    height_px = body_size_px(
        joints,
        joints_from_landmarks(np.array([body.world_m for body in bodies], float)),
        CHECK_MODEL,
    )
    edge = np.array([samples.width_px, samples.height_px]) - EDGE_PX
    beyond = np.any((landmarks < EDGE_PX) | (landmarks > edge), axis=-1)
    head_y = joints[:, [JOINTS.index(n) for n in ("nose", "left_ear", "right_ear")], 1].min(axis=1)
    feet = landmarks[:, FEET].mean(axis=1)
    up = np.array([_middle(points, "shoulder") for points in landmarks]) - feet
    return PersonFacts(
        looks=tuple(number for number, _ in chain),
        height_px=height_px,
        cut_off={
            name: float(np.any(beyond[:, list(rows)], axis=1).mean())
            for name, rows in (("feet", FEET), ("hands", HANDS), ("head", HEAD))
        },
        room_above=head_y / height_px - 0.07,  # the crown lies above eyes and ears
        lean_deg=np.degrees(np.arctan2(up[:, 0], -up[:, 1])),
        bodies=bodies,
    )
