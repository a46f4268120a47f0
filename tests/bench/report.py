"""Times the report of a clip: its share of an analysis, and how it opens with sixty reps.

The share is that of pictures, tables and page in a first analysis of the clip, with the run of the
pose model. The time to open is that of a report of sixty reps, the clip's own over and over.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from pathlib import Path

from pipeline.analysis import analyse_clip, write_analysis
from pipeline.people.cache import TrackCache
from pipeline.report.page import render_page
from pipeline.report.pictures.key_frames import rep_pictures
from pipeline.settings.settings import AnalysisSettings
from pipeline.settings.side_file import read_side_file
from tests.fixtures.chromium import CHROMIUM, FLAGS
from tests.fixtures.reports import repeated

N_REPS, RUNS = 60, 5


def opening_s(path: Path) -> tuple[float, float]:
    """Median time to the first paint of content and to the end of loading, in a phone's width."""
    from playwright.sync_api import sync_playwright

    paints, loads = [], []
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        for _ in range(RUNS):
            page = browser.new_page(viewport={"width": 390, "height": 844})
            page.goto(path.as_uri())
            paints.append(
                page.evaluate("performance.getEntriesByName('first-contentful-paint')[0].startTime")
            )
            loads.append(page.evaluate("performance.timing.loadEventEnd - performance.timeOrigin"))
            page.close()
        browser.close()
    return statistics.median(paints) / 1000.0, statistics.median(loads) / 1000.0


def main() -> None:
    """Print the times and sizes."""
    clip = Path(sys.argv[1])
    side = read_side_file(clip)
    settings = AnalysisSettings(stature_m=side.stature_m, move=side.move)
    with tempfile.TemporaryDirectory() as folder:
        out, cache = Path(folder) / "out", Path(folder) / "cache"
        start = time.perf_counter()
        analysis = analyse_clip(clip, settings, cache_dir=cache)
        analysed_s = time.perf_counter() - start
        start = time.perf_counter()
        write_analysis(analysis, out, settings=settings, cache_dir=cache)
        written_s = time.perf_counter() - start
        print(f"load {os.getloadavg()[0]:.1f}, {os.cpu_count()} cores")
        share = 100 * written_s / (analysed_s + written_s)
        print(
            f"{clip.name}: {len(analysis.reps)} reps, analysed in {analysed_s:.2f} s, "
            f"report written in {written_s:.2f} s: {share:.1f} % of the whole"
        )
        own = rep_pictures(analysis, cache=TrackCache(cache), hide_faces=True)
        pictures = {i + 1: own[i % len(own) + 1] for i in range(N_REPS)}
        start = time.perf_counter()
        html = render_page(repeated(analysis, N_REPS), pictures)
        page_s = time.perf_counter() - start
        path = Path(folder) / "report.html"
        path.write_text(html, encoding="utf-8")
        paint_s, load_s = opening_s(path)
        print(
            f"{N_REPS} reps: page made in {page_s:.2f} s, {path.stat().st_size / 1e6:.1f} MB; "
            f"first content after {paint_s:.2f} s, loaded after {load_s:.2f} s"
        )


if __name__ == "__main__":
    main()
