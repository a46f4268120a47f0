"""A copy of a film that every browser plays, made in a process of its own.

Run as a program of its own: a copy takes seconds to minutes, and a decoder that meets a film it
does not survive must not take the page's server with it.
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
"""A larger picture is made smaller: it is for looking, and 4K takes a computer too long."""

KEYFRAME_EVERY = 15
"""So near together that a step back decodes a few frames only."""

ENCODED = {"preset": "veryfast", "crf": "20", "bf": "0", "g": str(KEYFRAME_EVERY)}


def proxy_path(cache: Path, digest: str) -> Path:
    """Where the copy of a film lies, by the film's digest, beside its other pictures."""
    return cache / f"{digest[:32]}.proxy.mp4"


def make_proxy(source: Path, target: Path) -> int:
    """Write the copy, whole or not at all.

    The frames are those that an analysis reads, with the film's own stamps in its own time base,
    so that a frame is shown at the same time as in the film. There is no sound.

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
    # Named after the film, so that it is forgotten with it if this program is killed.
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
    """Size of the copy of an upright picture: even, and not too large."""
    scale = min(1.0, LONGEST_SIDE_PX / max(width_px, height_px))
    width, height = (max(2, 2 * round(scale * side / 2)) for side in (width_px, height_px))
    return width, height


def _upright(picture: VideoFrame, orientation: Orientation, width: int, height: int) -> VideoFrame:
    import av

    if orientation == Orientation():
        # Not by way of RGB, which would cost time and colour.
        return picture.reformat(width=width, height=height, format="yuv420p")
    frame = av.VideoFrame.from_ndarray(orientation.upright(picture), format="rgb24")
    return frame.reformat(width=width, height=height, format="yuv420p")


def main(arguments: list[str]) -> int:
    """Make a copy: the film, and where the copy goes."""
    source, target = (Path(argument) for argument in arguments)
    try:
        make_proxy(source, target)
    except (CrossemetryError, OSError) as error:
        sys.stderr.write(f"{error}\n")
        return 1
    return 0


ProxyState = Literal["none", "making", "ready", "failed"]

LONGEST_S = 1800.0
"""A copy that takes longer than this is given up."""


class ProxyMaker:
    """Makes each copy once; the page asks how far it is."""

    def __init__(self) -> None:
        self._asked: dict[Path, ProxyState] = {}
        self._queue: SimpleQueue[tuple[Path, Path]] = SimpleQueue()
        self._lock = threading.Lock()
        self._running: subprocess.Popen[bytes] | None = None
        self._thread: threading.Thread | None = None
        atexit.register(self.close)

    def state(self, target: Path) -> ProxyState:
        """Tell how far a copy is; it is not asked for by that."""
        if target.is_file():
            return "ready"
        state = self._asked.get(target, "none")
        return "none" if state == "ready" else state  # it was taken away since

    def ask(self, source: Path, target: Path) -> ProxyState:
        """Have a copy made, unless it is there, is being made, or could not be made before."""
        with self._lock:
            state = self.state(target)
            if state != "none":
                return state
            self._asked[target] = "making"
            self._queue.put((source, target))
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, daemon=True)
                self._thread.start()
        return "making"

    def close(self) -> None:
        """End the process that is at work, if there is one."""
        running = self._running
        if running is not None and running.poll() is None:
            running.kill()

    def _work(self) -> None:
        while True:
            source, target = self._queue.get()
            # Isolated like this program itself: the same interpreter, the same modules.
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
            self._asked[target] = "failed" if failed or not target.is_file() else "ready"


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
