"""Has copies of films made one after the other, each by a process of its own."""

from __future__ import annotations

import atexit
import subprocess
import sys
import threading
from pathlib import Path
from queue import SimpleQueue
from typing import Literal

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
