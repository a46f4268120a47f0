"""Draw the frames of a clip and write film, truth and side file."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np
from numpy.typing import NDArray

from .clips import ClipEntry
from .exposure import low_light, uneven_rows
from .filming import Recorder
from .hardships import Hardship
from .staging import Staging, build
from .tracks import GRID_HZ
from .truth import truth_of


def frame_rows(staging: Staging) -> NDArray[np.int64]:
    """Return the row of the motion grid of every frame; uneven when the entry says so."""
    entry = staging.entry
    step = GRID_HZ // entry.fps
    n_frames = int(staging.choreography.duration_s * entry.fps)
    rows = np.arange(n_frames) * step
    rng = np.random.default_rng(entry.order.seed + 5)
    if entry.uneven_times:
        shift = rng.integers(-step // 5, step // 5 + 1, n_frames)
        shift[0] = 0
        rows = rows + shift
    if entry.hardship is not None and entry.hardship.dropped_share > 0:
        rows = uneven_rows(rows, entry.hardship.dropped_share, rng)
    return rows


def times_of(rows: NDArray[np.int64]) -> list[float]:
    """Return the presentation time in seconds of each row, as the truth file has it."""
    return [round(float(row) / GRID_HZ, 5) for row in rows]


def as_stored(picture: NDArray[np.uint8], turn_deg: int) -> NDArray[np.uint8]:
    """Return the upright picture as it is stored when players turn it by ``turn_deg``."""
    return np.ascontiguousarray(np.rot90(picture, -turn_deg // 90))


class _Sensor:
    """Adds the noise of the sensor to frame after frame."""

    def __init__(self, entry: ClipEntry) -> None:
        self.hardship = entry.hardship or Hardship(name="plain")
        self.rng = np.random.default_rng(entry.order.seed + 9)
        self.width, self.height = entry.size_px
        size = (6, self.height + 64, self.width + 64, 1)
        grain = np.round(self.rng.normal(0, entry.noise, size)).astype(np.int16)
        self.grain = np.repeat(grain, 3, axis=3)

    def noisy(self, picture: NDArray[np.uint8], k: int) -> NDArray[np.uint8]:
        """Return frame ``k`` with noise."""
        if self.hardship.grain > 0:
            return low_light(picture, self.hardship.light, self.hardship.grain, self.rng)
        dx, dy = self.rng.integers(0, 64, 2)
        grain = self.grain[k % 6, dy : dy + self.height, dx : dx + self.width]
        return cv2.add(picture, grain, dtype=cv2.CV_8U).astype(np.uint8)


def render(entry: ClipEntry, out: Path) -> None:
    """Render one clip into a folder: NAME.mp4, NAME.truth.json, NAME.clip.toml."""
    staging = build(entry)
    rows = frame_rows(staging)
    times = times_of(rows)
    out.mkdir(parents=True, exist_ok=True)
    truth = truth_of(staging, rows, times)
    _write(out / f"{entry.name}.truth.json", json.dumps(truth, separators=(",", ":")) + "\n")
    note = "Rendered: nobody real is in this film, and its scenario is invented."
    _write(
        out / f"{entry.name}.clip.toml",
        f"invented = true\nstature_m = {entry.athlete.stature_m}\n"
        f'move = "{entry.move}"\nlevel = "{entry.level}"\nnote = "{note}"\n',
    )
    recorder, sensor = Recorder(staging), _Sensor(entry)
    turn_deg = entry.hardship.stored_turn_deg if entry.hardship is not None else 0
    width, height = entry.size_px if turn_deg % 180 == 0 else entry.size_px[::-1]
    partial = out / f"{entry.name}.part.mp4"
    with av.open(str(partial), "w", options={"movflags": "faststart"}) as film:
        stream = film.add_stream("libx264", rate=Fraction(entry.fps))
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        stream.time_base = Fraction(1, GRID_HZ * 32)
        stream.codec_context.time_base = stream.time_base
        stream.options = {"crf": str(entry.crf), "preset": "medium", "threads": "1"}
        if entry.hardship is not None and entry.hardship.most_mbit_s > 0:
            rate = f"{entry.hardship.most_mbit_s:g}M"
            stream.options |= {"maxrate": rate, "bufsize": rate}
        if turn_deg:
            stream.set_display_rotation(turn_deg)
        for k, row in enumerate(rows.tolist()):
            picture = as_stored(sensor.noisy(recorder.frame(row), k), turn_deg)
            frame = av.VideoFrame.from_ndarray(picture, format="bgr24")
            frame.pts, frame.time_base = row * 32, stream.time_base
            film.mux(stream.encode(frame))
        film.mux(stream.encode())
    partial.replace(out / f"{entry.name}.mp4")


def _write(path: Path, text: str) -> None:
    partial = path.with_name(path.name + ".part")
    partial.write_text(text, encoding="utf-8")
    partial.replace(path)
