"""Command line: render the clips of a set into a folder."""

from __future__ import annotations

import argparse
import time
from pathlib import Path

from .sets import table
from .video import render

LONG_SETS = ("season", "season_pair", "season_short")


def main() -> None:
    """Render every clip of the table that was asked for."""
    parser = argparse.ArgumentParser(prog="python -m sample_clips.render", description=__doc__)
    parser.add_argument("--out", type=Path, required=True, help="folder to write into")
    parser.add_argument("--only", help="name of a single clip")
    parser.add_argument(
        "--set",
        dest="set_name",
        choices=("sample", "training", "test", "check", "drawn", "hard", "moves", *LONG_SETS),
        help="one set only; drawn, hard, moves and the long films need --seed",
    )
    parser.add_argument("--seed", type=int, default=0, help="of a set that is drawn by chance")
    parser.add_argument("--move", action="append", help="clips of this move only; may be repeated")
    parser.add_argument(
        "--missing", action="store_true", help="leave out clips whose film is in the folder already"
    )
    parser.add_argument(
        "--truth", action="store_true", help="write truth and side file alone, draw no film"
    )
    asked = parser.parse_args()
    names = [asked.set_name] if asked.set_name else ["sample", "training", "test", "check"]
    chosen = [
        entry
        for name in names
        for entry in table(name, asked.seed)
        if (asked.only is None or entry.name == asked.only)
        and (asked.move is None or entry.move in asked.move)
    ]
    if not chosen:
        parser.error("no clip of that set has that name or move")
    for entry in chosen:
        if asked.missing and (asked.out / f"{entry.name}.mp4").exists():
            continue
        begun = time.perf_counter()
        render(entry, asked.out, truth_alone=asked.truth)
        print(f"{entry.name}: {time.perf_counter() - begun:.0f} s", flush=True)


if __name__ == "__main__":
    main()
