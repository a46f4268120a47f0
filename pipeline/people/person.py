"""One person being followed: where they are expected next, and how well a pose fits them."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from pipeline.core.types import FloatArray
from pipeline.film.container import Picture
from pipeline.people.body import (
    FRAME_OF_BODY,
    centre_px,
    colour_distance,
    could_be_a_body,
    jersey_colour,
    length_px,
    posture,
)
from pipeline.people.pose_model import Pose, Window

LOOK_BACK_S = 0.2
SLOWING_S = 0.4
"""A person who is out of sight is expected to lose their speed within this time."""
LOST_AFTER_S = 1.5
"""Someone out of sight for longer is no longer waited for."""
HALF_WINDOW = 0.85
"""Half the side of a person's window, in body lengths: room for raised hands and a step."""
FASTEST_LENGTHS_PER_S = 4.0
"""No one crosses the picture faster, in body lengths a second: a sprint at 7 m/s."""
ALIKE_COLOUR = 45.0
"""Jerseys that differ by less, of 255, may be one."""
OTHER_COLOUR = 30.0
"""Jerseys of two people who are both in sight separate them when they differ by more."""
FURTHEST = 0.22
"""How far off its expected place a pose may lie, in body lengths."""
ASTRAY_LENGTHS_PER_S = 3.0
"""How fast that grows while someone is out of sight, who may have turned meanwhile."""
POSTURE_LASTS_S = 0.2
"""How long posture separates two people in the same jersey."""
MORE_LIKE = 0.8
"""A jersey must be nearer to a person's own colour than to another's, by this factor."""


@dataclass(eq=False)
class Person:
    """One person being followed.

    Attributes
    ----------
    number
        Running number, from 0, in the order of being found.
    pose
        The last pose that was accepted.
    length_px
        Smoothed length of the body in the picture.
    colour
        (3,) smoothed colour of the jersey, see `bodies.jersey_colour`.
    seen_s
        Time of `pose`.
    n_seen
        Frames in which the person was found.
    n_missed
        Frames since the person was last found.
    n_skipped
        Frames since then in which nobody was looked for.
    """

    number: int
    pose: Pose
    length_px: float
    colour: FloatArray
    seen_s: float
    n_seen: int = 0
    n_missed: int = 0
    n_skipped: int = 0
    _path: deque[tuple[float, FloatArray]] = field(default_factory=lambda: deque(maxlen=30))

    @classmethod
    def start(cls, number: int, pose: Pose, rgb: Picture, time_s: float) -> Person:
        """Begin to follow someone from a first pose, yet to be accepted."""
        return cls(number, pose, length_px(pose), jersey_colour(rgb, pose), time_s)

    def copy(self) -> Person:
        """Return a copy that goes its own way."""
        return replace(self, _path=self._path.copy())

    def shift_px(self, time_s: float) -> FloatArray:
        """(2,) by how much the person is expected to have moved since last seen."""
        recent = [(t, p) for t, p in self._path if t >= self.seen_s - LOOK_BACK_S]
        if len(recent) < 2:
            return np.zeros(2)
        times = np.array([t for t, _ in recent])
        places = np.array([p for _, p in recent])
        offsets = times - times.mean()
        velocity = offsets @ (places - places.mean(axis=0)) / float(offsets @ offsets)
        elapsed_s = SLOWING_S * (1.0 - np.exp(-(time_s - self.seen_s) / SLOWING_S))
        return np.asarray(velocity * elapsed_s)

    def window(self, time_s: float, wider: float = 1.0) -> Window:
        """Return the region in which to look for the person at a time."""
        centre = centre_px(self.pose) + self.shift_px(time_s)
        return Window.around(centre, HALF_WINDOW * wider * self.length_px)

    def cost(
        self, pose: Pose, colour: FloatArray, time_s: float, rivals: Sequence[Person] = ()
    ) -> float:
        """Return how badly a pose fits the person at a time; infinite when it cannot be them.

        Adds the distance from the expected place in body lengths, the change of size and of
        posture, and the difference of colour.

        Parameters
        ----------
        pose, colour
            A pose and the jersey colour found under it.
        time_s
            When.
        rivals
            The others in the picture: a pose in a jersey more like theirs is not this person's.
        """
        expected = self.pose.image_px + self.shift_px(time_s)
        apart = np.linalg.norm(pose.image_px - expected, axis=1)[FRAME_OF_BODY]
        away = float(apart.mean()) / self.length_px
        growth = abs(np.log(length_px(pose) / self.length_px))
        hidden_s = max(time_s - self.seen_s, 0.0)
        off_colour = colour_distance(colour, self.colour)
        if away > FURTHEST + min(ASTRAY_LENGTHS_PER_S * hidden_s, 1.2) or growth > 0.5:
            return float("inf")
        if away > FURTHEST and off_colour > 0.5 * ALIKE_COLOUR:
            return float("inf")  # so far off, only the same jersey is the same person
        for rival in rivals:
            separates = (
                rival is not self and colour_distance(rival.colour, self.colour) > OTHER_COLOUR
            )
            if separates and off_colour > MORE_LIKE * colour_distance(colour, rival.colour):
                return float("inf")
        # In a fifth of a second limbs have moved so far that posture separates no one.
        limbs = np.linalg.norm(posture(pose) - posture(self.pose), axis=1).mean()
        off_posture = float(limbs) * np.exp(-hidden_s / POSTURE_LASTS_S)
        return float(away + 0.3 * growth + off_posture + 0.6 * off_colour / 255)

    def accept(self, pose: Pose, colour: FloatArray, time_s: float, *, overlapped: bool) -> None:
        """Take a pose as the person's own at a time."""
        share = 0.5 if self.n_seen < 4 else 0.08
        if self.n_skipped:
            share = 1.0 - (1.0 - share) ** (1 + self.n_skipped)
            self.n_skipped = 0
        self.pose, self.seen_s = pose, time_s
        self.n_seen += 1
        self.n_missed = 0
        self._path.append((time_s, centre_px(pose)))
        if not overlapped:  # a covered body is cut short and shows the other one's jersey
            self.length_px += share * (length_px(pose) - self.length_px)
            self.colour = self.colour + share * (colour - self.colour)

    def worth_a_look(self) -> bool:
        """Tell whether to look afresh for someone not found: at first always, then now and then."""
        return self.n_missed < 6 or self.n_missed % 3 == 0

    def may_come_back_as(self, pose: Pose, colour: FloatArray, time_s: float) -> bool:
        """Tell whether someone found elsewhere can be this person, who was out of sight."""
        away = np.linalg.norm(centre_px(pose) - centre_px(self.pose)) / self.length_px
        alike = 1 / 1.5 < length_px(pose) / self.length_px < 1.5
        reach = 0.3 + FASTEST_LENGTHS_PER_S * (time_s - self.seen_s)
        return bool(away < reach and alike and colour_distance(colour, self.colour) < ALIKE_COLOUR)

    def come_back(self, pose: Pose) -> None:
        """Expect the person where they were found again, however they moved before."""
        self.pose = pose
        self._path.clear()

    def is_lost(self, time_s: float) -> bool:
        """Tell whether the person has been out of sight for too long to be waited for."""
        return time_s - self.seen_s > LOST_AFTER_S


def settle(
    people: Sequence[Person],
    poses: list[Pose],
    rgb: Picture,
    time_s: float,
    rivals: Sequence[Person] = (),
) -> dict[int, tuple[Pose, FloatArray]]:
    """Say which pose is whose, for all people and poses of a frame at once.

    Poses that cannot be a body's are left aside. Each pose goes to one person at most, each person
    gets one at most, and the sum of the costs is least (Kuhn, 1955, the assignment problem).

    Parameters
    ----------
    people, poses
        Who is looked for, and what was found in the frame.
    rgb, time_s
        The frame's picture and time.
    rivals
        Everyone in the picture, see `Person.cost`.

    Returns
    -------
    dict
        Pose and jersey colour by the index of the person in `people`; who is missing was not seen.
    """
    from scipy.optimize import linear_sum_assignment

    height, width = rgb.shape[:2]
    poses = [pose for pose in poses if could_be_a_body(pose, width, height)]
    if not poses or not people:
        return {}
    colours = [jersey_colour(rgb, pose) for pose in poses]
    costs = np.array(
        [
            [
                person.cost(pose, colour, time_s, rivals)
                for pose, colour in zip(poses, colours, strict=True)
            ]
            for person in people
        ]
    )
    if len(people) == 1:
        best = int(np.argmin(costs[0]))
        return {0: (poses[best], colours[best])} if np.isfinite(costs[0, best]) else {}
    # Leaving a person out costs more than any fit, so that as many as possible are found.
    rows, columns = linear_sum_assignment(np.where(np.isfinite(costs), costs, 10.0))
    return {
        int(row): (poses[column], colours[column])
        for row, column in zip(rows, columns, strict=True)
        if np.isfinite(costs[row, column])
    }
