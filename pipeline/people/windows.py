"""Runs the pose model on few frames where nothing happens, and on every frame of a window.

A scout looks at a few poses a second. When they show possible action, the model goes back to before
that moment, by a ring of decoded frames. It then computes every frame until all has been quiet for
a while.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from typing import Generic, Protocol, TypeVar

import numpy as np

from pipeline.film.clip import Frame
from pipeline.people.scout import AFTER_S, BEFORE_S, EVERY_S, Scout, Sighting

MOST_RING_BYTES = 400_000_000
"""Decoded frames that are kept: at 1080p and 60 frames a second the reach takes 140 MB."""
LOOKS_BACK = 2.5
"""A window begins at a look that was quiet, up to so many looks before the sign and `BEFORE_S`."""
FEWEST_SKIPPED = 2
"""With a ring so short that looks would lie no further apart, every frame is computed."""


class Decoded(Protocol):
    """A decoded frame, converted or not."""

    @property
    def index(self) -> int:
        """Number of the frame."""

    @property
    def time_s(self) -> float:
        """Time of the frame."""

    @property
    def n_bytes(self) -> int:
        """Memory that it takes."""

    def upright(self) -> Frame:
        """Convert it."""


State = TypeVar("State")


class Watcher(Protocol[State]):
    """Follows the people in a film."""

    def see(self, batch: Sequence[Decoded]) -> None:
        """Find everyone in the next frames."""

    def pass_by(self, frame: Decoded) -> None:
        """Leave out a frame."""

    def sightings(self) -> Sequence[Sighting]:
        """Who was seen in the last frame."""

    def state(self) -> State:
        """Return a copy of all that is known."""

    def back_to(self, state: State) -> None:
        """Forget what was found since a state."""


class Ring:
    """The last decoded frames, as far back as is needed and as memory allows.

    Parameters
    ----------
    most_bytes
        Memory of all frames together.
    """

    def __init__(self, most_bytes: int) -> None:
        self._most_bytes = most_bytes
        self._frames: deque[Decoded] = deque()
        self.n_bytes = 0

    def add(self, frame: Decoded, reach_s: float) -> None:
        """Keep a frame, and drop those further back than reach or memory allows."""
        self._frames.append(frame)
        self.n_bytes += frame.n_bytes
        while len(self._frames) > 1 and (
            self.n_bytes > self._most_bytes or frame.time_s - self._frames[0].time_s > reach_s
        ):
            self.n_bytes -= self._frames.popleft().n_bytes

    @property
    def first(self) -> int:
        """Number of the oldest frame."""
        return self._frames[0].index

    def take_after(self, index: int) -> list[Decoded]:
        """Return the frames after one, and empty the ring."""
        frames = [frame for frame in self._frames if frame.index > index]
        self._frames.clear()
        self.n_bytes = 0
        return frames


class Windows(Generic[State]):
    """Decides frame by frame what is computed.

    Parameters
    ----------
    watcher
        Follows the people.
    most_ring_bytes
        Memory of the ring.
    on_progress
        Called with the number of frames decoded so far.
    """

    def __init__(
        self,
        watcher: Watcher[State],
        *,
        most_ring_bytes: int = MOST_RING_BYTES,
        on_progress: Callable[[int], None] = lambda done: None,
    ) -> None:
        self._in_window = True
        self._watcher = watcher
        self._scout = Scout()
        self._most_bytes = most_ring_bytes
        self._ring = Ring(most_ring_bytes)
        self._again: deque[Decoded] = deque()
        """Frames out of the ring, to be computed before the film goes on."""
        self._states: deque[tuple[int, float, State]] = deque()
        """Frame, time and what was known, at each quiet look."""
        self._open_until_s = -np.inf
        self._every_s = EVERY_S
        self._step_s = 0.0
        self._progress = on_progress

    def run(self, decoded: Iterator[Decoded], batch_size: int) -> None:
        """Go through a film.

        Parameters
        ----------
        decoded
            Its frames in order.
        batch_size
            Frames that the watcher takes at a time.
        """
        coming = _with_last(decoded)
        while True:
            item = (self._again.popleft(), False) if self._again else next(coming, None)
            if item is None:
                return
            if not self._in_window:
                self._quiet(*item)
                continue
            # Batches begin where they would begin if every frame were computed: what is found in
            # a frame depends a little on which frames are looked at with it.
            batch = [item[0]]
            while len(batch) < batch_size - item[0].index % batch_size:
                following = self._again.popleft() if self._again else next(coming, (None,))[0]
                if following is None:
                    break
                batch.append(following)
            self._compute(batch)

    def _compute(self, batch: list[Decoded]) -> None:
        """Compute frames, and close the window when all has been quiet for long enough."""
        self._watcher.see(batch)
        last = batch[-1]
        if len(batch) > 1:
            self._step_s = (last.time_s - batch[0].time_s) / (len(batch) - 1)
        self._progress(last.index + 1)
        if self._is_due(last) and self._scout.sees_action(last.time_s, self._watcher.sightings()):
            self._open_until_s = last.time_s + AFTER_S
        if not self._again and last.time_s > self._open_until_s:
            self._in_window = False
            self._states = deque([(last.index, last.time_s, self._watcher.state())])

    def _quiet(self, frame: Decoded, is_last: bool) -> None:
        """Pass a frame by, or look at it; on any sign go back to before it."""
        self._every_s = self._usual_look_s(frame)
        if self._every_s <= FEWEST_SKIPPED * self._step_s:
            self._open(frame, until_s=np.inf)
            return
        self._ring.add(frame, BEFORE_S + LOOKS_BACK * self._every_s)
        self._progress(frame.index + 1)
        if not (self._is_due(frame) or is_last):
            self._watcher.pass_by(frame)
            return
        looked_s = self._scout.looked_s
        self._watcher.see([frame])
        while len(self._states) > 1 and (
            self._states[1][1] <= looked_s - BEFORE_S or self._states[0][0] < self._ring.first - 1
        ):
            self._states.popleft()
        if not self._scout.sees_action(frame.time_s, self._watcher.sightings()):
            self._states.append((frame.index, frame.time_s, self._watcher.state()))
            return
        index, time_s, state = self._states[0]
        self._watcher.back_to(state)
        self._scout.back_to(time_s)
        self._open(*self._ring.take_after(index), until_s=frame.time_s + AFTER_S)

    def _open(self, *again: Decoded, until_s: float) -> None:
        """Open a window that begins with some frames."""
        self._again.extend(again)
        self._in_window = True
        self._open_until_s = until_s

    def _is_due(self, frame: Decoded) -> bool:
        return frame.time_s - self._scout.looked_s >= self._every_s - 1e-6

    def _usual_look_s(self, frame: Decoded) -> float:
        """How often to look: more often when the ring is short."""
        reach_s = self._step_s * (self._most_bytes // max(frame.n_bytes, 1) - 1)
        return min(EVERY_S, (reach_s - BEFORE_S) / LOOKS_BACK)


def _with_last(frames: Iterator[Decoded]) -> Iterator[tuple[Decoded, bool]]:
    """Yield each frame with whether it is the last one."""
    frame = next(frames, None)
    while frame is not None:
        following = next(frames, None)
        yield frame, following is None
        frame = following
