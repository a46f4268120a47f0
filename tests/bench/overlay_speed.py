"""What an overlay costs per picture: ``python -m tests.bench.overlay_speed CLIP --cache DIR``.

Give a clip that was analysed before with the same cache, so that the pose model does not run.
"""

from __future__ import annotations

import argparse
import resource
import sys
import tempfile
import time
from pathlib import Path

from pipeline.analysis import analyse_clip
from pipeline.report.pictures.film_plan import plan_film
from pipeline.report.pictures.overlay import OverlaySettings, overlay_pictures, write_overlay
from pipeline.settings.settings import GivenSettings, resolve
from pipeline.settings.side_file import read_side_file
from tests.bench.speed import busy_s


def main() -> None:
    """Print the time per picture with faces hidden and shown, with and without the encoder."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("clip", type=Path)
    parser.add_argument("--cache", required=True, type=Path)
    options = parser.parse_args()
    settings = resolve(
        GivenSettings(), read_side_file(options.clip), clip_name=options.clip.name
    )  # fmt: skip
    analysis = analyse_clip(options.clip, settings, cache_dir=options.cache)
    parts = plan_film(analysis.clip.time_s, analysis.reps, whole=False)
    n_pictures = sum(part.frames.size for part in parts)
    print(f"{options.clip.name}: {n_pictures} pictures")
    for hide_faces in (True, False):
        shown = OverlaySettings(hide_faces=hide_faces)

        def draw(shown: OverlaySettings = shown) -> None:
            for _ in overlay_pictures(analysis, parts, shown):
                pass

        def write(shown: OverlaySettings = shown) -> None:
            with tempfile.TemporaryDirectory() as folder:
                write_overlay(analysis, Path(folder), shown)

        for name, work in (("read and drawn", draw), ("written", write)):
            wall_s, cpu_s, busy_before = time.perf_counter(), time.process_time(), busy_s()
            work()
            wall_s, cpu_s = time.perf_counter() - wall_s, time.process_time() - cpu_s
            busy = "" if busy_before is None else (
                f", others {max(0.0, (busy_s() or 0.0) - busy_before - cpu_s) / wall_s:.1f} cores"
            )  # fmt: skip
            print(
                f"faces {'hidden' if hide_faces else 'shown'}, {name}: "
                f"{1e3 * wall_s / n_pictures:.1f} ms a picture, "
                f"{1e3 * cpu_s / n_pictures:.1f} ms of processor{busy}"
            )
    kilo = 1024 if sys.platform == "darwin" else 1
    print(f"most memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024 / kilo:.0f} MB")


if __name__ == "__main__":
    main()
