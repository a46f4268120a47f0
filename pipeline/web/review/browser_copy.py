"""Makes a copy of a film that every browser plays, in a separate process.

A copy takes seconds to minutes, and a crash of the decoder must not end the page's server.
"""

from __future__ import annotations

import atexit
import os
import subprocess
import sys
import threading
from fractions import Fraction
from pathlib import Path
from queue import SimpleQueue
from typing import TYPE_CHECKING, Literal

from pipeline.core.errors import CrossemetryError
from pipeline.film.clip import open_clip
from pipeline.film.container import Orientation, announced_step_s, opened

if TYPE_CHECKING:
    from av import VideoFrame

LONGEST_SIDE_PX = 1920
"""Larger pictures are shrunk, because copying 4K takes too long."""

KEYFRAME_EVERY = 15
"""Interval of keyframes, in frames; a step back decodes at most this many."""

ENCODED = {"preset": "veryfast", "crf": "20", "bf": "0", "g": str(KEYFRAME_EVERY)}


def proxy_path(cache: Path, digest: str) -> Path:
    """Path of the copy of a film in the cache, by the film's digest."""
    return cache / f"{digest[:32]}.proxy.mp4"


def make_proxy(source: Path, target: Path) -> int:
    """Write the copy atomically.

    It has the frames that an analysis reads, with the film's own stamps and time base. So each
    frame is shown at the same time as in the film. It has no sound.

    Parameters
    ----------
    source
        A film.
    target
        The copy, replaced if it is there.

    Returns
    -------
    int
        Number of frames.

    Raises
    ------
    ClipError
        The film cannot be used.
    OSError
        The copy cannot be written.
    """
    import av

    with opened(source) as (_, stream):
        time_base = Fraction(stream.time_base or Fraction(1, 90_000))
        step = max(1, round(announced_step_s(stream) / time_base))
    unit = Fraction(1, time_base.denominator)
    # Named after the film, so that erasing the film also removes a leftover part.
    part = target.with_name(f"{target.name}.{os.getpid()}.part")
    target.parent.mkdir(parents=True, exist_ok=True)
    last: int | None = None
    n_frames = 0
    options = {"movflags": "+faststart", "video_track_timescale": str(time_base.denominator)}
    try:
        with open_clip(source) as reader, av.open(str(part), "w", "mp4", options=options) as film:
            width, height = shown_size(reader.width_px, reader.height_px)
            made = film.add_stream("libx264", rate=30, options=ENCODED)
            made.width, made.height, made.pix_fmt = width, height, "yuv420p"
            made.time_base = made.codec_context.time_base = unit
            for picture, _ in reader.stored():
                frame = _upright(picture, reader.orientation, width, height)
                stamp = picture.pts
                if stamp is None or (last is not None and stamp <= last):
                    stamp = 0 if last is None else last + step
                last, n_frames = stamp, n_frames + 1
                frame.pts, frame.time_base = stamp * time_base.numerator, unit
                film.mux(made.encode(frame))
            film.mux(made.encode())
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)
    return n_frames


def shown_size(width_px: int, height_px: int) -> tuple[int, int]:
    """Width and height of the copy of an upright picture, in px: even and limited."""
    scale = min(1.0, LONGEST_SIDE_PX / max(width_px, height_px))
    width, height = (max(2, 2 * round(scale * side / 2)) for side in (width_px, height_px))
    return width, height


def _upright(picture: VideoFrame, orientation: Orientation, width: int, height: int) -> VideoFrame:
    import av

    if orientation == Orientation():
        # Converting to RGB and back would cost time and colour accuracy.
        return picture.reformat(width=width, height=height, format="yuv420p")
    frame = av.VideoFrame.from_ndarray(orientation.upright(picture), format="rgb24")
    return frame.reformat(width=width, height=height, format="yuv420p")


def main(arguments: list[str]) -> int:
    """Make a copy; the arguments are the film and the copy."""
    source, target = (Path(argument) for argument in arguments)
    try:
        make_proxy(source, target)
    except (CrossemetryError, OSError) as error:
        sys.stderr.write(f"{error}\n")
        return 1
    return 0


ProxyState = Literal["none", "making", "ready", "failed"]

LONGEST_S = 1800.0
"""Time limit for a copy."""


class ProxyMaker:
    """Makes each copy once, in the background."""

    def __init__(self) -> None:
        self._states: dict[Path, ProxyState] = {}
        self._queue: SimpleQueue[tuple[Path, Path]] = SimpleQueue()
        self._lock = threading.Lock()
        self._running: subprocess.Popen[bytes] | None = None
        self._thread: threading.Thread | None = None
        atexit.register(self.close)

    def state(self, target: Path) -> ProxyState:
        """State of a copy; does not start one."""
        if target.is_file():
            return "ready"
        state = self._states.get(target, "none")
        return "none" if state == "ready" else state  # the file was removed since

    def request(self, source: Path, target: Path) -> ProxyState:
        """Start a copy, unless it exists, is being made or failed before; returns the state."""
        with self._lock:
            state = self.state(target)
            if state != "none":
                return state
            self._states[target] = "making"
            self._queue.put((source, target))
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, daemon=True)
                self._thread.start()
        return "making"

    def close(self) -> None:
        """End the running process, if any."""
        running = self._running
        if running is not None and running.poll() is None:
            running.kill()

    def _work(self) -> None:
        while True:
            source, target = self._queue.get()
            # The same interpreter and the same modules as this program.
            command = [
                sys.executable,
                "-m",
                "pipeline.web.review.browser_copy",
                str(source),
                str(target),
            ]
            try:
                self._running = subprocess.Popen(
                    command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
                )
                failed = self._running.wait(LONGEST_S) != 0
            except (OSError, subprocess.TimeoutExpired):
                self.close()
                failed = True
            self._states[target] = "failed" if failed or not target.is_file() else "ready"


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
