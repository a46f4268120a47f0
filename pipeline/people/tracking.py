"""Follows the people in a film from frame to frame, each through a window of their own."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable, Generator, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, closing
from dataclasses import replace
from itertools import islice

import numpy as np

from pipeline.core.types import FloatArray, Tracks
from pipeline.film.camera_motion import StillnessWatch
from pipeline.film.clip import Frame
from pipeline.people.body import centre_px, covers, jersey_colour, length_px, same_body
from pipeline.people.detection import find_people, first_tiles, hide, later_tiles
from pipeline.people.person import Person, settle
from pipeline.people.pose_model import Pose, PoseFinder, PoseModel, PoseTracker
from pipeline.people.roles import SMALL_SHARE, choose_roles
from pipeline.people.track import RawTrack

N_WORKERS = 2
FRAMES_AHEAD = 6
TILE_EVERY_S = 0.5
"""While there may be someone else to follow, one tile is searched this often; each costs 10 ms."""
TILE_EVERY_MISSING_S = 0.2
"""The same while someone who was followed is out of sight, turn about where they were last."""
MISSED_S = 0.25
"""Someone out of sight for longer may turn up elsewhere."""


def follow_people(
    frames: Iterable[Frame],
    model: PoseModel,
    *,
    n_people_max: int = 3,
    athlete_at: tuple[float, float] | None = None,
    on_progress: Callable[[int], None] | None = None,
) -> Tracks:
    """Follow the people in a film and decide who is the athlete and who the defender.

    Each person is looked for in a window that moves along with their own past landmarks. Frames
    come from a thread that decodes ahead; two workers run the pose model: for one person on two
    frames at a time, for several on one person each. What is found does not depend on timing.

    Parameters
    ----------
    frames
        Frames in order, as from `open_clip`.
    model
        The pose model.
    n_people_max
        How many people are followed at once: the two players and someone standing by.
    athlete_at
        (x, y) px of the athlete in the first frame; None to decide by the movement.
    on_progress
        Called with the number of frames done.

    Returns
    -------
    Tracks
        Athlete first, then the defender, if there is one. At least one person, who may not have
        been found in any frame: then all is NaN.
    """
    with ExitStack() as stack:
        crew = _Crew(model, stack)
        watch = _Watch(crew, n_people_max, athlete_at)
        decoded = stack.enter_context(closing(_ahead(frames)))
        while batch := list(islice(decoded, N_WORKERS)):
            watch.see(batch)
            if on_progress is not None:
                on_progress(watch.n_frames)
    tracks = choose_roles(watch.tracks(), np.array(watch.times_s), athlete_at=athlete_at)
    return replace(
        tracks,
        camera_shift_px=watch.camera.shift_px(watch.n_frames),
        camera_misfit_px=watch.camera.misfit_px(watch.n_frames),
    )


class _Crew:
    """Two workers, each with a finder, and as many trackers as there are people to follow."""

    def __init__(self, model: PoseModel, stack: ExitStack) -> None:
        self._model = model
        self._stack = stack
        self._pool = stack.enter_context(ThreadPoolExecutor(N_WORKERS))
        self.finder: PoseFinder = stack.enter_context(closing(model.finder(n_poses=2)))
        self._trackers: list[PoseTracker] = []
        self.astray: set[int] = set()
        """Trackers, by number, that went over to another body or to none at all."""

    def track(self, jobs: Sequence[tuple[Frame, Person]]) -> list[Pose | None]:
        """Look for each person in a frame, side by side; each job has a tracker of its own."""

        def look(number: int, frame: Frame, person: Person) -> Pose | None:
            tracker = self._trackers[number]
            if number in self.astray:
                tracker.forget()
            window = person.window(frame.time_s)
            return tracker.find(window.cut(frame.rgb), window)

        while len(self._trackers) < len(jobs):
            self._trackers.append(self._stack.enter_context(closing(self._model.tracker())))
        results = [self._pool.submit(look, i, *job) for i, job in enumerate(jobs)]
        poses = [result.result() for result in results]
        self.astray.clear()
        return poses


class _Watch:
    """Everyone who is being followed, and the record of everyone who was."""

    def __init__(
        self, crew: _Crew, n_people_max: int, athlete_at: tuple[float, float] | None
    ) -> None:
        self.times_s: list[float] = []
        self.camera = StillnessWatch()
        self._crew = crew
        self._n_people_max = n_people_max
        self._athlete_at = athlete_at
        self._people: list[Person] = []
        self._gone: list[Person] = []
        """The last one who was lost, to be looked for where they were."""
        self._records: list[RawTrack] = []
        self._searched_s = -np.inf
        self._n_searches = 0
        self._n_tiles = 0

    @property
    def n_frames(self) -> int:
        """Number of frames seen."""
        return len(self.times_s)

    def tracks(self) -> list[RawTrack]:
        """Return the record of everyone, over all frames."""
        return self._records

    def see(self, batch: list[Frame]) -> None:
        """Find everyone in the next frames."""
        self._search(batch[0])
        if len(self._people) == 1:
            poses = self._crew.track([(frame, self._people[0]) for frame in batch])
            for number, (frame, pose) in enumerate(zip(batch, poses, strict=True)):
                self._settle(frame, {number: pose})
            return
        for frame in batch:
            poses = self._crew.track([(frame, person) for person in self._people])
            self._settle(frame, dict(enumerate(poses)))

    def _settle(self, frame: Frame, tracked: Mapping[int, Pose | None]) -> None:
        """Give each person their pose in a frame, and look afresh for those who got none.

        Parameters
        ----------
        frame
            The frame.
        tracked
            What each tracker found, by its number.
        """
        self.times_s.append(frame.time_s)
        seen = _distinct(tracked.values())
        found = settle(self._people, seen, frame.rgb, frame.time_s, self._people)
        for number, pose in tracked.items():
            own = found.get(number if len(self._people) > 1 else 0)
            if pose is not None and (own is None or not same_body(pose, own[0])):
                self._crew.astray.add(number)
        for i, person in enumerate(self._people):
            if i not in found and person.worth_a_look():
                others = [pose for pose, _ in found.values()]
                if (mine := self._look_afresh(frame, person, others)) is not None:
                    found[i] = mine
        self._record(frame, found)
        bodies_px = np.array([person.pose.image_px for person in self._people]).reshape(-1, 33, 2)
        self.camera.see(frame.rgb, len(self.times_s) - 1, frame.time_s, bodies_px)

    def _look_afresh(
        self, frame: Frame, person: Person, others: list[Pose]
    ) -> tuple[Pose, FloatArray] | None:
        """Look for one person in a wider window, then with the others in it painted over."""
        window = person.window(frame.time_s, wider=1.25)
        for hidden in ([], others) if others else ([],):
            region = hide(window.cut(frame.rgb), window, hidden)
            seen = self._crew.finder.find(region, window)
            new = [pose for pose in seen if not any(same_body(pose, other) for other in others)]
            if mine := settle([person], new, frame.rgb, frame.time_s, self._people):
                return mine[0]
        return None

    def _record(self, frame: Frame, found: dict[int, tuple[Pose, FloatArray]]) -> None:
        """Write down who was found, who covers whom, and let go of those long out of sight."""
        now = {i: pose for i, (pose, _) in found.items()}
        last = {i: now.get(i, person.pose) for i, person in enumerate(self._people)}
        for i, person in enumerate(self._people):
            overlapped = any(covers(last[i], last[j]) for j in last if j != i)
            self._records[person.number].add(
                len(self.times_s) - 1, found.get(i), overlapped=overlapped
            )
            if i in found:
                person.accept(*found[i], frame.time_s, overlapped=overlapped)
            else:
                person.n_missed += 1
        lost = [person for person in self._people if person.is_lost(frame.time_s)]
        self._people = [person for person in self._people if person not in lost]
        self._gone = [*self._gone, *lost][-1:]

    def _search(self, frame: Frame) -> None:
        """Look for people who are not followed: everywhere at first, then a tile now and then."""
        missing = [p for p in self._people if frame.time_s - p.seen_s > MISSED_S]
        in_sight = [person for person in self._people if person not in missing]
        if len(in_sight) >= self._n_people_max:
            return
        every_s = TILE_EVERY_MISSING_S if missing or self._gone else TILE_EVERY_S
        if frame.time_s - self._searched_s < every_s:
            return
        self._searched_s = frame.time_s
        height, width = frame.rgb.shape[:2]
        tiles = first_tiles(width, height)
        if self._records:
            if in_sight:
                tiles = later_tiles(width, height, in_sight[0].pose)
            self._n_searches += 1
            if (lost := [*self._gone, *missing]) and self._n_searches % 2 == 0:
                tiles = [lost[-1].window(frame.time_s, wider=1.6)]
            else:
                tiles = [tiles[self._n_tiles % len(tiles)]]
                self._n_tiles += 1
        known = [person.pose for person in in_sight]
        found = find_people(frame.rgb, tiles, known, self._crew.finder)
        found.sort(key=length_px, reverse=True)
        if self._athlete_at is not None and not self._records:
            point = np.array(self._athlete_at)
            found.sort(key=lambda pose: float(np.linalg.norm(centre_px(pose) - point)))
        for pose in found:
            self._welcome(frame, pose, missing)

    def _welcome(self, frame: Frame, pose: Pose, missing: list[Person]) -> None:
        """Take someone just found for one who was missing, or else as someone new."""
        colour = jersey_colour(frame.rgb, pose)
        for person in missing:
            if person.may_come_back_as(pose, colour, frame.time_s):
                person.come_back(pose)
                missing.remove(person)
                return
        largest_px = max((p.length_px for p in self._people if p not in missing), default=0.0)
        far_off = length_px(pose) < SMALL_SHARE * largest_px
        if len(self._people) < self._n_people_max and not far_off:
            self._gone.clear()
            self._records.append(RawTrack())
            self._people.append(Person.start(len(self._records) - 1, pose, frame.rgb, frame.time_s))


def _distinct(poses: Iterable[Pose | None]) -> list[Pose]:
    """Leave out poses that lie on a body that another pose lies on already."""
    kept: list[Pose] = []
    for pose in poses:
        if pose is not None and not any(same_body(pose, other) for other in kept):
            kept.append(pose)
    return kept


def _ahead(frames: Iterable[Frame]) -> Generator[Frame, None, None]:
    """Yield frames that a thread of its own decodes ahead, a few at a time."""
    waiting: queue.Queue[Frame | BaseException | None] = queue.Queue(FRAMES_AHEAD)
    stop = threading.Event()

    def put(item: Frame | BaseException | None) -> None:
        while not stop.is_set():
            try:
                waiting.put(item, timeout=0.1)
            except queue.Full:
                continue
            return

    def decode() -> None:
        try:
            for frame in frames:
                put(frame)
                if stop.is_set():
                    return
            put(None)
        except BaseException as error:
            put(error)

    thread = threading.Thread(target=decode, name="decode", daemon=True)
    thread.start()
    try:
        while (item := waiting.get()) is not None:
            if isinstance(item, BaseException):
                raise item
            yield item
    finally:
        stop.set()
        thread.join()
