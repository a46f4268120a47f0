"""One frame as the camera of a clip records it: exposure, rows in turn, turned camera, lens."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .events import middle, speed, top_hand
from .exposure import exposure_offsets, mean_of, readout_within, row_offsets, rows_in_turn
from .hardships import Hardship
from .lens import Maps, by_turned_camera, lens_maps, through_lens, turned
from .paint import draw
from .staging import Staging

Floats = NDArray[np.float64]
Picture = NDArray[np.uint8]

BLUR_FROM_MPS = 4.0
"""From this hand speed (relative to the hips) on, a frame is the mean of three instants."""
BLUR_ROWS = 1
"""Grid steps between the three instants: together about 1/160 s of exposure."""
STILL_MPS = 0.5
"""While nothing moves faster, a long exposure or readout shows nothing: one instant is drawn."""
FAST_MPS = 7.0
"""From this speed of anything on, a long exposure is the mean of more instants."""
FEW_INSTANTS, MANY_INSTANTS = 4, 6
ROWS_ROUND_PLAYERS_PX = 15
BAND_MARGIN_PX = 4


class Recorder:
    """Records frame after frame of one clip."""

    def __init__(self, staging: Staging) -> None:
        self.staging = staging
        self.hardship = staging.entry.hardship or Hardship(name="plain")
        athlete = staging.motions["athlete"]
        self.hand_mps = speed(top_hand(athlete) - middle(athlete, "hip"))
        self.last = len(athlete.time_s) - 1
        self.fastest_mps = np.max(
            [speed(path) for m in staging.motions.values() for path in m.joints_m.values()], axis=0
        )
        self._maps: Maps | None = None
        if self.hardship.distorted:
            self._maps = lens_maps(staging.camera, staging.stage.camera, self.hardship.distortion)

    def frame(self, row: int) -> Picture:
        """Return the upright frame at a row of the motion grid, without noise."""
        picture = self._exposed(row)
        if self.staging.turns is not None:
            seen = turned(self.staging.camera, self.staging.turns[row])
            return by_turned_camera(picture, seen, self.staging.stage.camera)
        if self._maps is not None:
            return through_lens(picture, self._maps)
        return picture

    def _exposed(self, row: int) -> Picture:
        moving = self.fastest_mps[row] > STILL_MPS
        if self.hardship.exposure_s > 0 and moving:
            n_instants = MANY_INSTANTS if self.fastest_mps[row] > FAST_MPS else FEW_INSTANTS
            offsets = exposure_offsets(self.hardship.exposure_s, n_instants)
            return mean_of([self._instant(row + offset) for offset in offsets])
        if self.hardship.readout_s > 0 and moving:
            return self._rolled(row)
        return self._short(row)

    def _short(self, row: int, rows_px: tuple[int, int] | None = None) -> Picture:
        """Return a frame of a short exposure."""
        if not self.staging.entry.blur or self.hand_mps[row] < BLUR_FROM_MPS:
            return self._instant(row, rows_px)
        shots = [
            self._instant(row + k, rows_px).astype(np.uint16) for k in (-BLUR_ROWS, 0, BLUR_ROWS)
        ]
        result: Picture = (sum(shots) // 3).astype(np.uint8)  # type: ignore[union-attr]
        return result

    def _instant(self, row: int, rows_px: tuple[int, int] | None = None) -> Picture:
        return draw(self.staging.stage, int(np.clip(row, 0, self.last)), rows_px)

    def _rolled(self, row: int) -> Picture:
        """Return a frame whose rows show each its own instant, as far as players reach."""
        height = self.staging.camera.size_px[1]
        readout_s = readout_within(self.hardship.readout_s, self.staging.entry.fps)
        offsets = row_offsets(height, readout_s)
        top, bottom = self._rows_of_players(row)
        first, last = int(offsets[top]), int(offsets[bottom])
        shown = {}
        for step in range(first, last + 1):
            # The outermost instants stand for the rows beyond, where at most a shadow falls.
            start = 0 if step == first else int(np.searchsorted(offsets, step))
            stop = height if step == last else int(np.searchsorted(offsets, step, side="right"))
            band = (max(0, start - BAND_MARGIN_PX), min(height, stop + BAND_MARGIN_PX))
            shown[step] = self._short(int(np.clip(row + step, 0, self.last)), band)
        return rows_in_turn(shown, offsets)

    def _rows_of_players(self, row: int) -> tuple[int, int]:
        """Return the first and last row of the picture that any player reaches."""
        camera = self.staging.camera
        points = np.stack(
            [p[row] for m in self.staging.motions.values() for p in m.joints_m.values()]
        )
        px, depth = camera.project(points)
        y = px[depth > 0.3, 1]
        last = camera.size_px[1] - 1
        top, bottom = y.min() - ROWS_ROUND_PLAYERS_PX, y.max() + ROWS_ROUND_PLAYERS_PX
        return int(np.clip(top, 0, last)), int(np.clip(bottom, 0, last))
