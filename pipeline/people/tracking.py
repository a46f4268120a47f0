"""Follows the people in a film from frame to frame, each through a window of their own."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable, Generator, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, closing
from dataclasses import dataclass, replace
from itertools import islice

import numpy as np

from pipeline.core.types import BoolArray, FloatArray, Tracks
from pipeline.film.camera_motion import StillnessWatch
from pipeline.film.clip import Frame
from pipeline.people.body import centre_px, covers, jersey_colour, length_px, same_body
from pipeline.people.detection import find_people, first_tiles, hide, later_tiles
from pipeline.people.person import Person, settle
from pipeline.people.pose_model import Pose, PoseFinder, PoseModel, PoseTracker
from pipeline.people.roles import SMALL_SHARE, choose_roles
from pipeline.people.scout import Sighting
from pipeline.people.track import RawTrack
from pipeline.people.windows import MOST_RING_BYTES, Decoded, Windows

N_WORKERS = 2
FRAMES_AHEAD = 6
TILE_EVERY_S = 0.5
"""While there may be someone else to follow, one tile is searched this often; each costs 10 ms."""
TILE_EVERY_MISSING_S = 0.2
"""The same while someone who was followed is out of sight, turn about where they were last."""
MISSED_S = 0.25
"""Someone out of sight for longer may turn up elsewhere."""


def follow_people(
    frames: Iterable[Decoded],
    model: PoseModel,
    *,
    n_people_max: int = 3,
    athlete_at: tuple[float, float] | None = None,
    every_frame: bool = True,
    fill_between: bool = False,
    most_ring_bytes: int = MOST_RING_BYTES,
    on_progress: Callable[[int], None] = lambda done: None,
) -> Tracks:
    """Follow the people in a film and decide who is the athlete and who the defender.

    Each person is looked for in a window that moves along with their own past landmarks. Frames
    come from a thread that decodes ahead; two workers run the pose model: for one person on two
    frames at a time, for several on one person each. What is found does not depend on timing.

    Parameters
    ----------
    frames
        Frames in order, as from `ClipReader.stored_frames`.
    model
        The pose model.
    n_people_max
        How many people are followed at once: the two players and someone standing by.
    athlete_at
        (x, y) px of the athlete in the first frame; None to decide by the movement.
    every_frame
        Whether the pose model runs on every frame; else only where something may happen, and on a
        few frames a second of the rest (`Windows`).
    fill_between
        Whether frames between the looks are computed too, by trackers of their own, so that windows
        hold the very same landmarks: shows what leaving those frames out changes.
    most_ring_bytes
        Memory for decoded frames to which a window reaches back.
    on_progress
        Called with the number of frames done.

    Returns
    -------
    Tracks
        Athlete first, then the defender, if there is one. At least one person, who may not have
        been found in any frame: then all is NaN.
    """
    with ExitStack() as stack:
        filling = _Crew(model, stack) if fill_between else None
        watch = _Watch(_Crew(model, stack), n_people_max, athlete_at, filling)
        decoded = stack.enter_context(closing(_ahead(frames)))
        if every_frame:
            while batch := list(islice(decoded, N_WORKERS)):
                watch.see(batch)
                on_progress(watch.n_frames)
        else:
            windows = Windows(watch, most_ring_bytes=most_ring_bytes, on_progress=on_progress)
            windows.run(decoded, N_WORKERS)
    tracks = choose_roles(
        watch.tracks(),
        np.array(watch.times_s),
        athlete_at=athlete_at,
        computed=None if every_frame or fill_between else watch.computed(),
    )
    return replace(
        tracks,
        camera_shift_px=watch.camera.shift_px(watch.n_frames),
        camera_misfit_px=watch.camera.misfit_px(watch.n_frames),
    )


@dataclass(frozen=True, slots=True)
class _State:
    """What a `_Watch` knew at some moment."""

    people: list[Person]
    gone: list[Person]
    marks: list[tuple[int, int]]
    searched_s: float
    n_searches: int
    n_tiles: int


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

    def upright(self, decoded: Sequence[Decoded]) -> list[Frame]:
        """Convert frames, side by side."""
        return list(self._pool.map(lambda frame: frame.upright(), decoded))

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
        self,
        crew: _Crew,
        n_people_max: int,
        athlete_at: tuple[float, float] | None,
        filling: _Crew | None = None,
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
        self._filling = filling
        """Finds people in the frames between two looks; None = those frames are left out."""
        self._between: list[Person] = []
        self._skipped: list[Decoded] = []
        self._computed: set[int] = set()
        self._last = -1
        """The frame in which people were last looked for."""

    @property
    def n_frames(self) -> int:
        """Number of frames seen."""
        return len(self.times_s)

    def tracks(self) -> list[RawTrack]:
        """Return the record of everyone, over all frames."""
        return self._records

    def computed(self) -> BoolArray:
        """(n_frames,) frames in which people were looked for."""
        computed = np.zeros(self.n_frames, bool)
        computed[list(self._computed)] = True
        return computed

    def sightings(self) -> list[Sighting]:
        """Who was seen in the last frame."""
        return [
            Sighting(
                person.number,
                person.pose,
                person.n_missed == 0 and person.n_seen > 0,
                self._records[person.number].overlapped[-1:] == [self._last],
            )
            for person in self._people
        ]

    def pass_by(self, frame: Decoded) -> None:
        """Leave out a frame between two looks, but look at its background when that is due.

        Where frames between are filled in, that changes nothing of what is found later: windows
        hold the same landmarks either way.
        """
        self._reach(frame)
        if self._filling is not None:
            if not self._skipped and frame.index == self._last + 1:
                self._between = [person.copy() for person in self._people]
            self._skipped.append(frame)
            if len(self._skipped) == N_WORKERS:
                self._fill(self._filling)
        for person in self._people:
            person.n_skipped += 1
        if self.camera.is_due(frame.index, frame.time_s):
            self._see_background(frame.upright())

    def state(self) -> _State:
        """Return a copy of all that is known of the people."""
        return _State(
            people=[person.copy() for person in self._people],
            gone=[person.copy() for person in self._gone],
            marks=[record.mark for record in self._records],
            searched_s=self._searched_s,
            n_searches=self._n_searches,
            n_tiles=self._n_tiles,
        )

    def back_to(self, state: _State) -> None:
        """Forget what was found since a state; the background is not looked at again."""
        self._skipped.clear()
        self._people = [person.copy() for person in state.people]
        self._gone = [person.copy() for person in state.gone]
        del self._records[len(state.marks) :]
        for record, mark in zip(self._records, state.marks, strict=True):
            record.cut_back(mark)
        self._searched_s = state.searched_s
        self._n_searches, self._n_tiles = state.n_searches, state.n_tiles

    def see(self, decoded: Sequence[Decoded]) -> None:
        """Find everyone in the next frames."""
        if self._filling is not None:
            self._fill(self._filling)
        batch = self._crew.upright(decoded)
        self._search(batch[0])
        if len(self._people) == 1:
            poses = self._crew.track([(frame, self._people[0]) for frame in batch])
            for number, (frame, pose) in enumerate(zip(batch, poses, strict=True)):
                self._settle(frame, {number: pose})
            return
        for frame in batch:
            poses = self._crew.track([(frame, person) for person in self._people])
            self._settle(frame, dict(enumerate(poses)))

    def _fill(self, crew: _Crew) -> None:
        """Find those who were there at the last look in the frames that were passed by."""
        skipped, self._skipped = self._skipped, []
        if not skipped:
            return
        batch = crew.upright(skipped)
        self._computed.update(frame.index for frame in batch)
        alone = len(self._between) == 1
        rounds = [batch] if alone else [[frame] for frame in batch]
        for frames in rounds:
            poses = crew.track([(frame, one) for frame in frames for one in self._between])
            for number, frame in enumerate(frames):
                seen = _distinct(poses[number : number + 1] if alone else poses)
                found = settle(self._between, seen, frame.rgb, frame.time_s, self._between)
                for i, (pose, colour) in found.items():
                    person = self._between[i]
                    self._records[person.number].add(frame.index, (pose, colour), overlapped=False)
                    person.accept(pose, colour, frame.time_s, overlapped=False)

    def _settle(self, frame: Frame, tracked: Mapping[int, Pose | None]) -> None:
        """Give each person their pose in a frame, and look afresh for those who got none.

        Parameters
        ----------
        frame
            The frame.
        tracked
            What each tracker found, by its number.
        """
        self._reach(frame)
        self._computed.add(frame.index)
        self._last = frame.index
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
        if self.camera.is_due(frame.index, frame.time_s):
            self._see_background(frame)

    def _reach(self, frame: Decoded) -> None:
        """Note the time of a frame that is seen for the first time."""
        if frame.index == len(self.times_s):
            self.times_s.append(frame.time_s)

    def _see_background(self, frame: Frame) -> None:
        bodies_px = np.array([person.pose.image_px for person in self._people]).reshape(-1, 33, 2)
        self.camera.see(frame.rgb, frame.index, frame.time_s, bodies_px)

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
            self._records[person.number].add(frame.index, found.get(i), overlapped=overlapped)
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


def _ahead(frames: Iterable[Decoded]) -> Generator[Decoded, None, None]:
    """Yield frames that a thread of its own decodes ahead, a few at a time."""
    waiting: queue.Queue[Decoded | BaseException | None] = queue.Queue(FRAMES_AHEAD)
    stop = threading.Event()

    def put(item: Decoded | BaseException | None) -> None:
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
