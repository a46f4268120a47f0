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
from .events import middle, speed, top_hand
from .paint import draw
from .staging import Staging, build
from .tracks import GRID_HZ
from .truth import truth_of

BLUR_FROM_MPS = 4.0
"""From this hand speed (relative to the hips) on, a frame is the mean of three instants."""
BLUR_ROWS = 1
"""Grid steps between the three instants: together about 1/160 s of exposure."""


def frame_rows(staging: Staging) -> NDArray[np.int64]:
    """Return the row of the motion grid of every frame; uneven when the entry says so."""
    entry = staging.entry
    step = GRID_HZ // entry.fps
    n_frames = int(staging.choreography.duration_s * entry.fps)
    rows = np.arange(n_frames) * step
    if entry.uneven_times:
        rng = np.random.default_rng(entry.order.seed + 5)
        shift = rng.integers(-step // 5, step // 5 + 1, n_frames)
        shift[0] = 0
        rows = rows + shift
    return rows


def times_of(rows: NDArray[np.int64]) -> list[float]:
    """Return the presentation time in seconds of each row, as the truth file has it."""
    return [round(float(row) / GRID_HZ, 5) for row in rows]


def _picture(staging: Staging, row: int, hand_mps: float) -> NDArray[np.uint8]:
    if not staging.entry.blur or hand_mps < BLUR_FROM_MPS:
        return draw(staging.stage, row)
    last = len(staging.motions["athlete"].time_s) - 1
    shots = [
        draw(staging.stage, int(np.clip(row + k, 0, last))).astype(np.uint16)
        for k in (-BLUR_ROWS, 0, BLUR_ROWS)
    ]
    result: NDArray[np.uint8] = (sum(shots) // 3).astype(np.uint8)  # type: ignore[union-attr]
    return result


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
    athlete = staging.motions["athlete"]
    hand = speed(top_hand(athlete) - middle(athlete, "hip"))
    rng = np.random.default_rng(entry.order.seed + 9)
    height, width = entry.size_px[1], entry.size_px[0]
    grain = np.round(rng.normal(0, entry.noise, (6, height + 64, width + 64, 1))).astype(np.int16)
    grain = np.repeat(grain, 3, axis=3)
    partial = out / f"{entry.name}.part.mp4"
    with av.open(str(partial), "w", options={"movflags": "faststart"}) as film:
        stream = film.add_stream("libx264", rate=Fraction(entry.fps))
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        stream.time_base = Fraction(1, GRID_HZ * 32)
        stream.codec_context.time_base = stream.time_base
        stream.options = {"crf": str(entry.crf), "preset": "medium", "threads": "1"}
        for k, row in enumerate(rows.tolist()):
            picture = _picture(staging, row, float(hand[row]))
            dx, dy = rng.integers(0, 64, 2)
            noisy = cv2.add(
                picture, grain[k % 6, dy : dy + height, dx : dx + width], dtype=cv2.CV_8U
            )
            frame = av.VideoFrame.from_ndarray(noisy.astype(np.uint8), format="bgr24")
            frame.pts, frame.time_base = row * 32, stream.time_base
            film.mux(stream.encode(frame))
        film.mux(stream.encode())
    partial.replace(out / f"{entry.name}.mp4")


def _write(path: Path, text: str) -> None:
    partial = path.with_name(path.name + ".part")
    partial.write_text(text, encoding="utf-8")
    partial.replace(path)
