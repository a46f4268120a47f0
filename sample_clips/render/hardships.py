"""What can make a clip harder than a still phone on a bright day: one difficulty, or none."""

from __future__ import annotations

from dataclasses import dataclass

from .people import Person


@dataclass(frozen=True, slots=True, kw_only=True)
class PasserBy:
    """Somebody without a stick who walks through the picture.

    Attributes
    ----------
    person : Person
    before : bool
        Between the camera and the players, else behind the players.
    walk_mps : float
        Positive: from the left of the picture to its right.
    """

    person: Person
    before: bool
    walk_mps: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Hardship:
    """One difficulty; the values that are not given leave the picture as it is.

    Attributes
    ----------
    name : str
        As in the truth and in the clip's name; ``plain`` for the clip without any.
    exposure_s : float
        Above 0: time over which a frame is the mean; its middle is the frame's time.
    readout_s : float
        Above 0: rows are exposed in turn, the first half of this time before the frame's time and
        the last half of it after. Never longer than most of the time from frame to frame.
    drift_deg, tremor_deg : float
        Turn of a hand-held camera: the greatest slow turn away from the first frame, and the
        standard deviation of the tremor about each axis.
    light : float
        Share of the light that is left.
    grain : float
        Standard deviation of the noise of a middle grey, in grey levels of 255.
    most_mbit_s : float
        Above 0: the encoder may not spend more.
    stored_turn_deg : int
        0, 90 or 270: the film is portrait and stored on its side; players turn the stored picture
        by this angle counter-clockwise to show it upright.
    dropped_share : float
        Above 0: frames come at uneven times and this share of them is missing.
    distortion : (k1, k2)
        Radial terms of the lens on slopes x / z, y / z; negative k1 is a barrel.
    passer_by : PasserBy, optional
    """

    name: str
    exposure_s: float = 0.0
    readout_s: float = 0.0
    drift_deg: float = 0.0
    tremor_deg: float = 0.0
    light: float = 1.0
    grain: float = 0.0
    most_mbit_s: float = 0.0
    stored_turn_deg: int = 0
    dropped_share: float = 0.0
    distortion: tuple[float, float] = (0.0, 0.0)
    passer_by: PasserBy | None = None

    @property
    def shaken(self) -> bool:
        """Whether the camera turns while it films."""
        return self.drift_deg > 0 or self.tremor_deg > 0

    @property
    def distorted(self) -> bool:
        """Whether the lens bends straight lines."""
        return self.distortion != (0.0, 0.0)
