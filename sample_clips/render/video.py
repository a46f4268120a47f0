"""Draw the frames of a clip and write film, truth and side file."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np
from numpy.typing import NDArray

from .entry import ClipEntry
from .exposure import low_light, uneven_rows
from .filming import Recorder
from .hardships import Hardship
from .staging import Staging, build
from .tracks import GRID_HZ
from .truth import truth_of

LONGEST_AT_ONCE_S, PIECE_S = 120, 15
"""Longer films are rendered in pieces: a run that was stopped goes on where it was."""


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

    def __init__(self, entry: ClipEntry, piece: int | None = None) -> None:
        self.hardship = entry.hardship or Hardship(name="plain")
        seed = entry.order.seed + 9
        self.rng = np.random.default_rng(seed if piece is None else [seed, piece])
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


def render(entry: ClipEntry, out: Path, *, truth_alone: bool = False) -> None:
    """Render one clip into a folder: NAME.mp4, NAME.truth.json, NAME.clip.toml.

    With ``truth_alone`` the film is not drawn: for a film of the same motion that is there already.
    """
    staging = build(entry)
    rows = frame_rows(staging)
    times = times_of(rows)
    out.mkdir(parents=True, exist_ok=True)
    truth = truth_of(staging, rows, times)
    _write(out / f"{entry.name}.truth.json", json.dumps(truth, separators=(",", ":")) + "\n")
    move = f'move = "{entry.move}"\n' if entry.move != "season" else ""
    note = "Rendered: nobody real is in this film, and its scenario is invented."
    _write(
        out / f"{entry.name}.clip.toml",
        f"invented = true\nstature_m = {entry.athlete.stature_m}\n"
        f'{move}level = "{entry.level}"\nnote = "{note}"\n',
    )
    if truth_alone:
        return
    if rows[-1] < LONGEST_AT_ONCE_S * GRID_HZ:
        encode(entry, Recorder(staging), rows, out / f"{entry.name}.mp4")
    else:
        _in_pieces(staging, rows, out)


def _in_pieces(staging: Staging, rows: NDArray[np.int64], out: Path) -> None:
    """Render a long film piece by piece; pieces of a stopped run are taken as they are."""
    entry, recorder = staging.entry, Recorder(staging)
    folder = out / f"{entry.name}.pieces"
    folder.mkdir(exist_ok=True)
    pieces: list[Path] = []
    n_frames = PIECE_S * entry.fps
    for number, first in enumerate(range(0, len(rows), n_frames)):
        pieces.append(folder / f"{number:04d}.mp4")
        if not pieces[-1].exists():
            encode(entry, recorder, rows[first : first + n_frames], pieces[-1], number)
            print(f"{entry.name}: {rows[first] / GRID_HZ:.0f} s of the film done", flush=True)
    partial = out / f"{entry.name}.part.mp4"
    join_films(pieces, partial)
    partial.replace(out / f"{entry.name}.mp4")
    for piece in pieces:
        piece.unlink()
    folder.rmdir()


def join_films(pieces: list[Path], out: Path) -> None:
    """Put films of the same size and encoding one after the other, without encoding them again."""
    with av.open(str(out), "w", options={"movflags": "faststart"}) as film:
        stream = None
        since = Fraction(0)
        for piece in pieces:
            with av.open(str(piece)) as part:
                source = part.streams.video[0]
                if stream is None:
                    stream = film.add_stream_from_template(source)
                base, length = source.time_base or Fraction(1), Fraction(0)
                for packet in part.demux(source):
                    if packet.dts is None or packet.pts is None:
                        continue
                    step = packet.duration or 0
                    length = max(length, (packet.pts + step) * base)
                    packet.pts += round(since / base)
                    packet.dts += round(since / base)
                    packet.stream = stream
                    film.mux(packet)
                since += length


def encode(
    entry: ClipEntry,
    recorder: Recorder,
    rows: NDArray[np.int64],
    path: Path,
    number: int | None = None,
) -> None:
    """Draw frames and write them as a film of its own that starts with the first of them."""
    sensor, first = _Sensor(entry, number), int(rows[0])
    turn_deg = entry.hardship.stored_turn_deg if entry.hardship is not None else 0
    width, height = entry.size_px if turn_deg % 180 == 0 else entry.size_px[::-1]
    partial = path.with_suffix(".part.mp4")
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
            frame.pts, frame.time_base = (row - first) * 32, stream.time_base
            film.mux(stream.encode(frame))
        film.mux(stream.encode())
    partial.replace(path)


def _write(path: Path, text: str) -> None:
    partial = path.with_name(path.name + ".part")
    partial.write_text(text, encoding="utf-8")
    partial.replace(path)
