"""The proposals of marks against clips whose marks are known: what is found, and what is false.

python -m tests.bench.proposals FOLDER...
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from pathlib import Path

import numpy as np

from pipeline.film.clip import open_clip
from pipeline.web.field.suggest_marks import propose_marks

NEAR_PX = 4.0


def score(folders: list[Path]) -> dict[str, Counter[str]]:
    """Count, for feet of cones and points of a goal, those in the picture, found, and false."""
    counts = {"cone": Counter[str](), "goal": Counter[str]()}
    for truth_path in sorted(path for folder in folders for path in folder.glob("*.truth.json")):
        truth = json.loads(truth_path.read_text(encoding="utf-8"))
        with open_clip(truth_path.with_name(truth["clip"])) as reader:
            rgb = next(iter(reader)).rgb
        proposed = propose_marks(rgb)
        for kind, count in counts.items():
            seen = [
                mark["image_px"] for mark in truth["ground_marks"]
                if mark["name"].startswith(kind)
                and 0 <= mark["image_px"][0] < rgb.shape[1]
                and 0 <= mark["image_px"][1] < rgb.shape[0]
            ]  # fmt: skip
            points = [p.image_px for p in proposed if p.kind.startswith(kind)]
            away = np.linalg.norm(
                np.array(seen).reshape(-1, 1, 2) - np.array(points).reshape(1, -1, 2), axis=-1
            )
            found = int((away.min(axis=1, initial=np.inf) <= NEAR_PX).sum())
            false = int((away.min(axis=0, initial=np.inf) > NEAR_PX).sum())
            count.update(there=len(seen), found=found, proposed=len(points), false=false)
            if found < len(seen) or false:
                nearest = np.round(away.min(axis=1, initial=np.inf), 1).tolist()
                print(f"  {truth_path.stem}: {kind} {found} of {len(seen)}, {false} false; "
                      f"nearest {nearest} px")  # fmt: skip
    return counts


if __name__ == "__main__":
    for kind, count in score([Path(name) for name in sys.argv[1:]]).items():
        recall = count["found"] / max(count["there"], 1)
        precision = 1 - count["false"] / max(count["proposed"], 1)
        print(
            f"{kind}: {count['found']} of {count['there']} found ({recall:.1%}), "
            f"{count['false']} of {count['proposed']} false ({precision:.1%} right)"
        )
