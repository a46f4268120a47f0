"""Times the program against a bare loop over the same pose model, and weighs it: `make bench`."""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import asdict, dataclass
from pathlib import Path

from tests.bench.film import loop_film, rest_film

RUNS = 5
BARE_LOOP = """
import sys, cv2, mediapipe as mp
from mediapipe.tasks.python import BaseOptions, vision
options = vision.PoseLandmarkerOptions(
    base_options=BaseOptions(model_asset_path=sys.argv[2]), running_mode=vision.RunningMode.VIDEO)
film = cv2.VideoCapture(sys.argv[1])
models = [vision.PoseLandmarker.create_from_options(options) for _ in range(int(sys.argv[3]))]
n = 0
while True:
    got, frame = film.read()
    if not got:
        break
    rgb = cv2.cvtColor(frame, cv2.COLOR_BGR2RGB)
    for model in models:
        model.detect_for_video(mp.Image(mp.ImageFormat.SRGB, rgb), int(n * 1000 / 30))
    n += 1
print(n)
"""
AFTER_LANDMARKS = """
import sys, time
from pathlib import Path
from pipeline.core.progress import ignore_progress
from pipeline.analysis import analyse_clip, write_analysis
from pipeline.settings.settings import GivenSettings, resolve
from pipeline.settings.side_file import read_side_file
clip, out, cache = (Path(text) for text in sys.argv[1:4])
settings = resolve(GivenSettings(), read_side_file(clip), clip_name=clip.name)
spent = []
for _ in range(4):  # the first loads modules
    start = time.process_time()
    analysis = analyse_clip(clip, settings, cache_dir=cache, on_progress=ignore_progress)
    write_analysis(analysis, out, settings=settings, cache_dir=cache)
    spent.append(time.process_time() - start)
print(1e3 * sorted(spent[1:])[1] / analysis.clip.n_frames)
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One process, from its start to its end.

    Attributes
    ----------
    wall_s, cpu_s
        Time that passed; processor time of the process.
    peak_mb
        Largest resident memory.
    foreign_cores
        Cores that other processes kept busy meanwhile; None where the system does not say.
    output
        What it printed.
    """

    wall_s: float
    cpu_s: float
    peak_mb: float
    foreign_cores: float | None
    output: str


def run(*command: str | Path) -> Run:
    """Run a process to its end and weigh it."""
    busy_before, start = busy_s(), time.perf_counter()
    with tempfile.TemporaryFile("w+") as output:
        child = subprocess.Popen(
            [str(part) for part in command], stdout=output, stderr=subprocess.DEVNULL
        )
        _pid, status, usage = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
        wall_s = time.perf_counter() - start
        busy_after = busy_s()
        output.seek(0)
        text = output.read()
    if child.returncode:
        raise SystemExit(f"{' '.join(map(str, command))[:200]} ended with {child.returncode}")
    cpu_s = usage.ru_utime + usage.ru_stime
    foreign = None
    if busy_before is not None and busy_after is not None:
        foreign = max(0.0, busy_after - busy_before - cpu_s) / wall_s
    kilo = 1024 if sys.platform == "darwin" else 1
    return Run(
        wall_s=wall_s, cpu_s=cpu_s, peak_mb=usage.ru_maxrss / 1024 / kilo, foreign_cores=foreign,
        output=text,
    )  # fmt: skip


def busy_s() -> float | None:
    """Processor seconds that the whole machine has worked; None where the system does not say."""
    try:
        fields = Path("/proc/stat").read_text(encoding="ascii").splitlines()[0].split()[1:]
    except OSError:
        return None
    user, nice, system, _idle, _wait, irq, soft_irq = (float(field) for field in fields[:7])
    return (user + nice + system + irq + soft_irq) / os.sysconf("SC_CLK_TCK")


def main() -> int:
    """Take all figures and print them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clip", type=Path, help="default: a sample clip of one person")
    parser.add_argument("--out", type=Path, default=Path("bench.json"))
    parser.add_argument("--quick", action="store_true", help="one run each, no long films")
    parser.add_argument("--runs", type=int, default=RUNS, help="runs of each, for the median")
    parser.add_argument("--windows-only", action="store_true", help="only what windows save")
    options = parser.parse_args()
    clip = options.clip or Path("sample_clips/shot_adult.mp4")
    with tempfile.TemporaryDirectory() as folder:
        runs = 1 if options.quick else options.runs
        figures: dict[str, object] = {}
        if not options.windows_only:
            figures = take_figures(clip, Path(folder), runs=runs)
        if options.windows_only or not options.quick:
            figures |= take_windows(Path(folder), runs=runs)
        if not (options.windows_only or options.quick):
            figures |= take_memory(clip, Path(folder))
    load = Path("/proc/loadavg")
    figures["load_average"] = load.read_text().split()[:3] if load.exists() else None
    for name, value in figures.items():
        if name != "all_runs":
            print(f"{name:44} {format(value, '.3f') if isinstance(value, float) else value}")
    options.out.write_text(json.dumps(figures, indent=2), encoding="utf-8")
    return 0


def take_figures(clip: Path, folder: Path, *, runs: int) -> dict[str, object]:
    """Time the bare loop and the program in turn, then the second analysis and the help text."""
    model = Path("models/pose_landmarker_full.task")
    bare, ours = [], []
    for i_run in range(runs):
        bare.append(run(sys.executable, "-c", BARE_LOOP, clip, model, "1"))
        fresh = folder / str(i_run)
        ours.append(run(*analyse(clip, fresh)))
    n_frames = int(bare[0].output)
    again = [run(*analyse(clip, folder / "0")) for _ in range(runs)]
    after = run(sys.executable, "-c", AFTER_LANDMARKS, clip, folder / "0", folder / "0" / ".cache")
    helps = [run(sys.executable, "-m", "pipeline", "--help") for _ in range(runs)]
    imports = [run(sys.executable, "-c", "import pipeline.analysis") for _ in range(runs)]
    bare_s, ours_s, again_s = (median_s(each) for each in (bare, ours, again))
    minutes = duration_s(clip) / 60
    foreign = [each.foreign_cores for each in bare + ours if each.foreign_cores is not None]
    return {
        "clip": clip.name,
        "n_frames": n_frames,
        "bare_loop_s": bare_s,
        "analyse_s": ours_s,
        "analyse_over_bare": ours_s / bare_s,
        "bare_loop_ms_per_frame": 1e3 * bare_s / n_frames,
        "analyse_ms_per_frame": 1e3 * ours_s / n_frames,
        "bare_loop_cpu_s": statistics.median(each.cpu_s for each in bare),
        "analyse_cpu_s": statistics.median(each.cpu_s for each in ours),
        "start_and_imports_s": median_s(imports),
        "after_landmarks_cpu_ms_per_frame": float(after.output),
        "second_analysis_s": again_s,
        "second_analysis_s_per_minute_of_film": again_s / minutes,
        "help_s": median_s(helps),
        "foreign_cores": statistics.median(foreign) if foreign else None,
        "all_runs": {
            "bare": [asdict(each) for each in bare],
            "analyse": [asdict(each) | {"output": ""} for each in ours],
        },
    }


FILMS = (("shot_adult", 0.35, 1), ("shot_adult", 0.20, 1), ("dodge_adult", 0.35, 2))
"""Sample clip, share of film inside reps, and people in it."""
MANY, MANY_WORKERS = 8, 2


def take_windows(folder: Path, *, runs: int) -> dict[str, object]:
    """Time the bare loop, one model per person, against windows on films of known share of reps."""
    model = Path("models/pose_landmarker_full.task")
    figures: dict[str, object] = {}
    many = folder / "many"
    for name, share, n_people in FILMS:
        clip = Path("sample_clips") / f"{name}.mp4"
        truth = json.loads(clip.with_suffix(".truth.json").read_text(encoding="utf-8"))
        reps_s = [(rep["start_s"], rep["stop_s"]) for rep in truth["reps"]]
        title = f"{name}_{100 * share:.0f}"
        film = rest_film(clip, folder / f"{title}.mp4", reps_s, share=share, height_px=1080)
        side = clip.with_name(f"{name}.clip.toml").read_bytes()
        film.with_name(f"{title}.clip.toml").write_bytes(side)
        bare, ours = [], []
        for i_run in range(runs):
            bare.append(run(sys.executable, "-c", BARE_LOOP, film, model, str(n_people)))
            ours.append(run(*analyse(film, folder / f"{title}_{i_run}"), "--windows"))
        facts = json.loads(ours[0].output)["clip"]
        inside_s = sum(stop - start for start, stop in reps_s)
        figures |= {
            f"{title}_share_in_reps": inside_s / duration_s(film),
            f"{title}_share_computed": facts["share_computed"],
            f"{title}_bare_s": median_s(bare),
            f"{title}_windows_s": median_s(ours),
            f"{title}_times_faster": median_s(bare) / median_s(ours),
            f"{title}_bare_cpu_s": statistics.median(each.cpu_s for each in bare),
            f"{title}_windows_cpu_s": statistics.median(each.cpu_s for each in ours),
        }
        if share < 0.3:
            many.mkdir()
            for number in range(MANY):
                # A byte behind the film makes another film of it, for the cache.
                copy = many / f"clip_{number}.mp4"
                copy.write_bytes(film.read_bytes() + bytes([number]))
                copy.with_name(f"clip_{number}.clip.toml").write_bytes(side)
            bare_s = MANY * median_s(bare)
    every = [
        run(*analyse(many, folder / f"many_{i_run}"), "--windows", "--workers", str(MANY_WORKERS))
        for i_run in range(runs)
    ]
    figures[f"{MANY}_clips_{MANY_WORKERS}_workers_s"] = median_s(every)
    figures[f"{MANY}_clips_{MANY_WORKERS}_workers_times_faster"] = bare_s / median_s(every)
    return figures


def take_memory(clip: Path, folder: Path) -> dict[str, object]:
    """Weigh the analysis of a short and of a long film made of the same frames."""
    peaks = {}
    again_s = float("nan")
    for name, seconds in (("30_s", 30.0), ("5_min", 300.0)):
        film = loop_film(clip, folder / f"{name}.mp4", seconds=seconds)
        side = clip.with_name(clip.stem + ".clip.toml")
        film.with_name(film.stem + ".clip.toml").write_bytes(side.read_bytes())
        peaks[name] = run(*analyse(film, folder / name)).peak_mb
        again_s = run(*analyse(film, folder / name)).wall_s
    return {
        "second_analysis_5_min_s_per_minute": again_s / 5.0,
        "peak_memory_30_s_mb": peaks["30_s"],
        "peak_memory_5_min_mb": peaks["5_min"],
        "peak_memory_5_min_over_30_s": peaks["5_min"] / peaks["30_s"],
    }


def analyse(clip: Path, out: Path) -> list[str | Path]:
    """Give the command that analyses a clip."""
    return [sys.executable, "-m", "pipeline", "analyse", clip, "--out", out, "--json"]


def median_s(runs: list[Run]) -> float:
    """Median of the time that passed."""
    return statistics.median(each.wall_s for each in runs)


def duration_s(clip: Path) -> float:
    """How long a film runs."""
    import av

    with av.open(str(clip)) as container:
        return float(container.duration) / av.time_base


if __name__ == "__main__":
    sys.exit(main())
