"""Finds from a few poses a second where a film may show action."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np

from pipeline.core.types import BoolArray, FloatArray
from pipeline.people.body import ANKLES, HIPS, NOSE, SHOULDERS, TRUNK, WRISTS, length_px
from pipeline.people.pose_model import Pose

EVERY_S = 1 / 6
"""Interval between two poses where nothing happens."""
BEFORE_S = 0.25
"""A window begins this long before the last pose that was still quiet, or a look earlier: one
period of the lowest cut-off of the smooth joints, 4 Hz."""
AFTER_S = 0.3
"""It ends this long after the last sign: the same, and the way of the hips is carried on."""
LIMB_SPEED = 0.15
"""Hands, feet and shoulders against the hips, body lengths a second: half the speed under which the
hands count as quiet at the start of a rep, and a sixth of the slowest throw."""
HIPS_SPEED = 0.10
"""Hips in the picture: under half of what counts as quiet, a seventh of a walk at 1.3 m/s."""
DRIFT = 0.06
"""Distance of a limb against the hips over `DRIFT_S`, body lengths: half the least of a throw."""
GROWTH = 0.05
"""Change of the length over `DRIFT_S`: a walk along the view at 1.3 m/s shows it within 26 m."""
DRIFT_S = 1.0
UNSURE_VISIBILITY = 0.5
"""A trunk that is seen less well is not tracked for sure."""

_LIMBS = [NOSE, *SHOULDERS, *WRISTS, *ANKLES]


@dataclass(frozen=True, slots=True, eq=False)
class Sighting:
    """One person at one moment.

    Attributes
    ----------
    number
        Of the person, the same throughout the film.
    pose
        The last pose that was accepted.
    found
        Whether that was at this moment.
    overlapped
        Whether another body was in the way.
    """

    number: int
    pose: Pose
    found: bool
    overlapped: bool


@dataclass(frozen=True, slots=True, eq=False)
class _Sample:
    time_s: float
    limbs: FloatArray
    hips: FloatArray
    log_length: float
    after_fast: bool
    """Whether someone came here fast: slow movement is added up from here on."""


@dataclass(slots=True)
class Scout:
    """Compares the poses of each person over the last second; a doubtful pose counts as action.

    Attributes
    ----------
    looked_s
        Time of the last look.
    """

    looked_s: float = -np.inf
    _samples: dict[int, deque[_Sample]] = field(default_factory=dict)

    def sees_action(self, time_s: float, people: Iterable[Sighting]) -> bool:
        """Look at everyone at a moment; true if a rep may be going on or beginning.

        Parameters
        ----------
        time_s
            Later than at any look before, except after `back_to`.
        people
            Everyone who is followed.
        """
        self.looked_s = time_s
        seen = list(people)
        signs = [self._moves(time_s, one) for one in seen]
        for number in set(self._samples) - {one.number for one in seen}:
            del self._samples[number]  # out of sight for so long that tracking gave them up
        return any(signs)

    def back_to(self, time_s: float) -> None:
        """Forget all looks after a time."""
        self.looked_s = min(self.looked_s, time_s)
        for number, samples in list(self._samples.items()):
            while samples and samples[-1].time_s > time_s:
                samples.pop()
            if not samples:
                del self._samples[number]

    def _moves(self, time_s: float, one: Sighting) -> bool:
        """Whether a person moves, is new, or is not tracked for sure."""
        samples = self._samples.setdefault(one.number, deque())
        if not one.found or one.overlapped:
            return True
        now = _sample(time_s, one.pose, samples[-1] if samples else None)
        while samples and time_s - samples[0].time_s > DRIFT_S + 1e-6:
            samples.popleft()
        earlier = list(samples)
        samples.append(now)
        if (
            not earlier
            or now.after_fast
            or float(one.pose.visibility[TRUNK].mean()) < UNSURE_VISIBILITY
        ):
            return True
        raised = one.pose.image_px[WRISTS, 1].min() < one.pose.image_px[SHOULDERS, 1].mean()
        if raised:
            return True
        for old in reversed(earlier):
            if _drifts(now, old):
                return True
            if old.after_fast:
                break
        return False


def _sample(time_s: float, pose: Pose, before: _Sample | None) -> _Sample:
    length = max(length_px(pose), 1.0)
    hips_px = pose.image_px[HIPS].mean(axis=0)
    now = _Sample(
        time_s=time_s,
        limbs=np.asarray((pose.image_px[_LIMBS] - hips_px) / length, float),
        hips=np.asarray(hips_px / length, float),
        log_length=float(np.log(length)),
        after_fast=False,
    )
    return now if before is None else replace(now, after_fast=_fast(now, before))


def _fast(now: _Sample, before: _Sample) -> bool:
    """Whether hips or a limb went faster than someone who stands quietly."""
    elapsed_s = now.time_s - before.time_s
    too_far = LIMB_SPEED * elapsed_s
    return _limbs_way(now, before) > too_far or _hips_way(now, before) > HIPS_SPEED * elapsed_s


def _drifts(now: _Sample, before: _Sample) -> bool:
    """Whether slow movement added up to a way that may be part of a rep."""
    grown = abs(now.log_length - before.log_length)
    return _limbs_way(now, before) > DRIFT or _hips_way(now, before) > DRIFT or grown > GROWTH


def _limbs_way(now: _Sample, before: _Sample) -> float:
    """Greatest way of a limb against the hips, in body lengths."""
    return float(np.linalg.norm(now.limbs - before.limbs, axis=1).max())


def _hips_way(now: _Sample, before: _Sample) -> float:
    """Way of the hips in the picture, in body lengths of now."""
    scale = float(np.exp(before.log_length - now.log_length))
    return float(np.linalg.norm(now.hips - scale * before.hips))


def noise_between_looks(time_s: FloatArray, computed: BoolArray) -> tuple[FloatArray, FloatArray]:
    """Return how much less certain joints are where the pose model ran on few frames.

    A spline through samples of density ``d`` (share of the frames) with the same penalty has its
    half-gain frequency at ``d**(1/4)`` of the usual one. It leaves ``d**(-3/8)`` times the noise
    (`pipeline.core.spline.noise_gain`). Between two samples a limb may also have moved unseen, as
    fast as the scout lets pass.

    Parameters
    ----------
    time_s
        (n,).
    computed
        (n,) frames in which the pose model ran.

    Returns
    -------
    gain, unseen
        (n,) factor on the noise, and standard deviation to add to it, shares of stature.
    """
    at_s = time_s[computed]
    if at_s.size < 2:
        return np.ones(time_s.size), np.zeros(time_s.size)
    after = np.clip(np.searchsorted(at_s, time_s, side="right"), 1, at_s.size - 1)
    before = np.clip(np.searchsorted(at_s, time_s, side="left") - 1, 0, at_s.size - 2)
    n_gaps = np.maximum(after - before, 1)  # two gaps meet in a frame that was computed
    density = n_gaps * float(np.median(np.diff(time_s))) / (at_s[after] - at_s[before])
    gain = np.maximum(density, 1e-3) ** -0.375
    away_s = np.abs(time_s[:, None] - np.stack([at_s[after], at_s[after - 1]], axis=1)).min(axis=1)
    return np.asarray(np.maximum(gain, 1.0)), np.asarray(LIMB_SPEED * away_s)
