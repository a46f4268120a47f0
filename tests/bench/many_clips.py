"""Analyses many short clips in worker processes that are killed, and looks at what is left.

Run with ``python -m tests.bench.many_clips``: 200 clips of one second, cut from the sample clips,
two workers, five kills. It prints the time, the clips lost, and the memory of the workers.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path

import av
import psutil
from sqlalchemy import func, select

from pipeline.core.files import VARIABLE
from pipeline.log.schema import CLIPS, REPS
from pipeline.log.store import opened_log
from tests.fixtures.fake_clips import finished

ROOT = Path(__file__).resolve().parent.parent.parent
LOOK_EVERY_S = 1.0
MB = 2**20


@dataclass
class Watch:
    """What was seen of the workers: memory in MB by process, in the order of time."""

    memory_mb: dict[int, list[float]] = field(default_factory=dict)
    n_kills: dict[str, int] = field(default_factory=lambda: {"run": 0, "worker": 0})


def cut_clips(folder: Path, n: int, length_s: float) -> None:
    """Cut clips out of the sample clips in turn, each from another place, with a side file each."""
    folder.mkdir(parents=True)
    samples = sorted((ROOT / "sample_clips").glob("*.mp4"))
    of_sample = {sample: list(range(i, n, len(samples))) for i, sample in enumerate(samples)}
    for sample, numbers in of_sample.items():
        with av.open(str(sample)) as film:
            stream = film.streams.video[0]
            rate, n_frames = stream.average_rate, stream.frames
            n_long = round(length_s * rate)
            last = max(n_frames - n_long - 1, 1)
            starts = [round(i * last / len(numbers)) for i in range(len(numbers))]
            frames = [frame.to_ndarray(format="yuv420p") for frame in film.decode(stream)]
        for number, start in zip(numbers, starts, strict=True):
            path = folder / f"clip {number + 1}.mp4"
            write_cut(path, frames[start : start + n_long], rate)
            shutil.copy(sample.with_suffix(".clip.toml"), path.with_suffix(".clip.toml"))


def write_cut(path: Path, frames, rate) -> None:
    with av.open(str(path), "w") as film:
        stream = film.add_stream("libx264", rate=rate, options={"preset": "veryfast", "crf": "20"})
        stream.height, stream.width = frames[0].shape[0] * 2 // 3, frames[0].shape[1]
        stream.pix_fmt = "yuv420p"
        for picture in frames:
            film.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="yuv420p")))
        film.mux(stream.encode())


def start(clips: Path, out: Path, workers: int) -> subprocess.Popen:
    command = [sys.executable, "-m", "pipeline", "analyse", str(clips), "--out", str(out)]
    options = ["--workers", str(workers), "--athlete", "Nobody", "--quiet"]
    return subprocess.Popen([*command, *options], cwd=ROOT)


def workers_of(run: subprocess.Popen) -> list[psutil.Process]:
    """Return the processes of a run that hold the pose model; not what Python starts for itself."""
    try:
        children = psutil.Process(run.pid).children(recursive=True)
        return [one for one in children if "multiprocessing.spawn" in " ".join(one.cmdline())]
    except psutil.Error:
        return []


def look(run: subprocess.Popen, watch: Watch) -> None:
    for worker in workers_of(run):
        try:
            watch.memory_mb.setdefault(worker.pid, []).append(worker.memory_info().rss / MB)
        except psutil.Error:
            continue


def run_and_kill(
    clips: Path, out: Path, n: int, options: argparse.Namespace
) -> tuple[Watch, float]:
    """Analyse all clips; kill the run, or one of its workers, when so many clips are finished."""
    moments = random.Random(options.seed)
    kills = sorted(moments.sample(range(n // 20 + 1, n - n // 20), options.kills))
    watch, start_s = Watch(), time.monotonic()
    run = start(clips, out, options.workers)
    while run.poll() is None:
        time.sleep(LOOK_EVERY_S)
        look(run, watch)
        if kills and len(finished(out)) >= kills[0]:
            kills.pop(0)
            time.sleep(moments.uniform(0.0, 2.0))
            workers = workers_of(run)
            if len(kills) % 2 == 0 or not workers:
                watch.n_kills["run"] += 1
                kept = marks(out)
                run.kill()
                run.wait()
                psutil.wait_procs(workers, timeout=30)
                assert kept.items() <= marks(out).items(), "a finished clip was touched"
                run = start(clips, out, options.workers)
            else:
                watch.n_kills["worker"] += 1
                moments.choice(workers).kill()
    assert run.returncode == 0, run.returncode
    return watch, time.monotonic() - start_s


def marks(out: Path) -> dict[str, int]:
    """When the manifest of each finished clip was written, ns."""
    return {
        name: (out / name / "crossemetry-files.json").stat().st_mtime_ns for name in finished(out)
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clips", type=int, default=200)
    parser.add_argument("--length-s", type=float, default=1.0)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--kills", type=int, default=5)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        os.environ[VARIABLE] = str(Path(scratch) / "data")
        clips, out = Path(scratch) / "clips", Path(scratch) / "out"
        cut_clips(clips, options.clips, options.length_s)
        foreign = psutil.getloadavg()[0]
        print(f"{options.clips} clips are cut", flush=True)
        watch, wall_s = run_and_kill(clips, out, options.clips, options)
        report(out, options, watch, wall_s, foreign)


def report(
    out: Path, options: argparse.Namespace, watch: Watch, wall_s: float, foreign: float
) -> None:
    """Check that each clip is there once and whole, and print what was seen."""
    rows = json.loads((out / "summary.json").read_text(encoding="utf-8"))["clips"]
    tables = [json.loads((out / row["folder"] / "reps.json").read_text()) for row in rows]
    assert [len(table["reps"]) for table in tables] == [row["n_reps"] for row in rows]
    with opened_log() as log, log.reading() as connection:
        n_logged, n_reps = (
            connection.execute(select(func.count()).select_from(table)).scalar_one()
            for table in (CLIPS, REPS)
        )
    assert n_reps == sum(row["n_reps"] for row in rows)
    lost = options.clips - len({row["film"] for row in rows if row["error"] is None})
    parts = len(list(out.glob("*/.*.part")))
    print(
        f"{options.clips} clips of {options.length_s:g} s, {options.workers} workers, "
        f"kills {watch.n_kills}: {wall_s:.0f} s, {lost} clips lost, {n_logged} in the log with "
        f"{n_reps} reps, {parts} half files; load of the machine before: {foreign:.1f}"
    )
    for pid, values in watch.memory_mb.items():
        if len(values) < 40:
            continue
        quarter = len(values) // 4
        middle = sorted(values[quarter : 2 * quarter])[quarter // 2]
        end = sorted(values[-quarter:])[quarter // 2]
        print(
            f"worker {pid}: peak {max(values):.0f} MB; median of its second quarter {middle:.0f}, "
            f"of its last {end:.0f} MB ({len(values)} looks)"
        )


if __name__ == "__main__":
    main()
