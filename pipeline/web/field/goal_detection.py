"""Finds a goal in a mask of pipe colours: two posts and a crossbar."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

from pipeline.core.types import FloatArray
from pipeline.web.field.colours import Mask

MOST_POSTS = 16

_LEAST_HEIGHT = 0.06
"""Least height of a post, as a share of the picture's height."""
_UPRIGHT_DEG = 15.0
_LEVEL_DEG = 35.0
_SAME_BAR_PX = 6.0
_WIDTH_TO_HEIGHT = (0.25, 1.6)
"""Range in the picture: a goal seen from the side is narrower, a box goal is wider."""
_HEIGHTS_ALIKE = 1.6
"""Greatest ratio of the posts' lengths in the picture; the nearer post is longer."""
_LEAST_COVERED = 0.7
_THICKEST = 0.07
"""Greatest thickness of a pipe over the length of its post (0.026 for a goal of six feet)."""
_CORNER = 0.12
"""Greatest distance of a post's end from the crossbar, as a share of its length."""
_N_ALONG = 40
_GAP = 0.08
"""Greatest hidden stretch of a post, as a share of its length."""


@dataclass(frozen=True, slots=True)
class _Bar:
    top: FloatArray
    foot: FloatArray

    @property
    def length(self) -> float:
        return float(np.linalg.norm(self.foot - self.top))


def find_goal(mask: Mask) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray] | None:
    """Find the goal whose pipes the mask covers best.

    Parameters
    ----------
    mask
        (height, width), above 0 where the picture has the colour.

    Returns
    -------
    tuple of numpy.ndarray, or None
        Left post's foot, right post's foot, left corner, right corner, each (x, y) px from the
        left and the top edge, on the middle lines of the pipes.
    """
    best, best_score = None, 0.0
    for left, right in combinations(sorted(_posts(mask), key=lambda bar: bar.top[0]), 2):
        goal = _goal_of(mask, left, right)
        if goal is not None and goal[0] > best_score:
            best_score, best = goal
    return best


def _posts(mask: Mask) -> list[_Bar]:
    """Find upright straight bars, the longest first."""
    import cv2

    least_px = _LEAST_HEIGHT * mask.shape[0]
    lines = cv2.HoughLinesP(
        mask, 1, np.pi / 360, threshold=max(int(0.6 * least_px), 10),
        minLineLength=least_px, maxLineGap=0.25 * least_px,
    )  # fmt: skip
    found: list[_Bar] = []
    ends = np.asarray([] if lines is None else lines, dtype=float).reshape(-1, 2, 2)
    pieces: list[_Bar] = []
    for one, other in ends:
        top, foot = (one + 0.5, other + 0.5) if one[1] <= other[1] else (other, one)
        along = foot - top
        if abs(np.degrees(np.arctan2(along[0], along[1]))) <= _UPRIGHT_DEG:
            pieces.append(_Bar(top, foot))
    for piece in sorted(pieces, key=lambda bar: -bar.length):
        if any(_is_part(piece, bar) for bar in found):
            continue
        line = _middle_line(mask, piece.top, piece.foot)
        if line is None:
            continue
        bar = _carried_on(mask, line)
        if bar.length >= least_px:
            found.append(bar)
        if len(found) == MOST_POSTS:
            break
    return found


def _is_part(piece: _Bar, bar: _Bar) -> bool:
    """Whether a piece lies on the line of a bar."""
    along = (bar.foot - bar.top) / bar.length
    across = np.array([-along[1], along[0]])
    off_px = [abs(float((end - bar.top) @ across)) for end in (piece.top, piece.foot)]
    return max(off_px) <= _SAME_BAR_PX


def _goal_of(
    mask: Mask, left: _Bar, right: _Bar
) -> tuple[float, tuple[FloatArray, FloatArray, FloatArray, FloatArray]] | None:
    """Score and four points of the goal with these posts; None if they do not form one."""
    if not _has_the_shape(left, right):
        return None
    bar = _middle_line(mask, left.top, right.top)
    if bar is None:
        return None
    corners = [_crossing(post, bar) for post in (left, right)]
    if any(
        np.linalg.norm(corner - post.top) > _CORNER * post.length
        for corner, post in zip(corners, (left, right), strict=True)
    ):
        return None
    posts = [_Bar(corner, post.foot) for corner, post in zip(corners, (left, right), strict=True)]
    shares = [_covered(mask, corners[0], corners[1])]
    shares += [_covered(mask, post.top, post.foot) for post in posts]
    if min(shares) < _LEAST_COVERED or not _has_the_shape(*posts):
        return None
    score = float(np.prod(shares)) * sum(post.length for post in posts)
    return score, (posts[0].foot, posts[1].foot, corners[0], corners[1])


def _has_the_shape(left: _Bar, right: _Bar) -> bool:
    lengths = sorted((left.length, right.length))
    if lengths[1] > _HEIGHTS_ALIKE * lengths[0]:
        return False
    top = right.top - left.top
    is_level = abs(np.degrees(np.arctan2(top[1], top[0]))) <= _LEVEL_DEG
    ratio = float(np.linalg.norm(top)) / float(np.mean(lengths))
    return bool(is_level and _WIDTH_TO_HEIGHT[0] <= ratio <= _WIDTH_TO_HEIGHT[1])


def _middle_line(mask: Mask, start: FloatArray, stop: FloatArray) -> _Bar | None:
    """Fit the middle line of a bar near two ends; None if there is no thin bar."""
    import cv2

    for _ in range(2):  # the second pass starts from a nearly correct line
        along = stop - start
        length = float(np.linalg.norm(along))
        along = along / length
        across = np.array([-along[1], along[0]])
        reach = np.arange(-max(_THICKEST * length, 4.0), max(_THICKEST * length, 4.0) + 0.5, 0.5)
        steps = np.linspace(0.08, 0.92, _N_ALONG) * length
        points = start + steps[:, None] * along
        filled = _sampled(mask, points[:, None] + reach[:, None] * across)
        weight = filled.sum(axis=1)
        is_bar = filled.any(axis=1) & (weight < 0.8 * reach.size)
        if is_bar.sum() < _LEAST_COVERED * _N_ALONG:
            return None
        off = (filled @ reach)[is_bar] / weight[is_bar]
        middles = points[is_bar] + off[:, None] * across
        fitted = cv2.fitLine(middles.astype(np.float32), cv2.DIST_HUBER, 0, 0.01, 0.01)
        way, through = fitted[:2, 0].astype(float), fitted[2:, 0].astype(float)
        way = way if way @ along > 0 else -way
        start, stop = (through + way * ((end - through) @ way) for end in (start, stop))
    return _Bar(start, stop)


def _carried_on(mask: Mask, bar: _Bar) -> _Bar:
    """Move the ends of an upright bar to where its colour ends."""
    along = (bar.foot - bar.top) / bar.length
    middle = 0.5 * (bar.top + bar.foot)
    gap_px = max(_GAP * bar.length, 2.0)
    ends = []
    for way in (-along, along):
        steps = np.arange(0.0, 2.0 * max(mask.shape), 0.5)
        filled = np.flatnonzero(_sampled(mask, middle + steps[:, None] * way))
        reached = 0.0
        if filled.size:
            jumps = np.flatnonzero(np.diff(steps[filled]) > gap_px)
            reached = float(steps[filled[jumps[0] if jumps.size else -1]])
        ends.append(middle + reached * way)
    return _Bar(ends[0], ends[1])


def _crossing(post: _Bar, bar: _Bar) -> FloatArray:
    """Point at which two middle lines cross."""
    one, other = post.foot - post.top, bar.foot - bar.top
    share, _ = np.linalg.solve(np.stack([one, -other], axis=1), bar.top - post.top)
    return np.asarray(post.top + share * one)


def _covered(mask: Mask, start: FloatArray, stop: FloatArray) -> float:
    """Share of a line that the mask covers."""
    shares = np.linspace(0.0, 1.0, 4 * _N_ALONG)[:, None]
    return float(_sampled(mask, start + shares * (stop - start)).mean())


def _sampled(mask: Mask, points: FloatArray) -> npt.NDArray[np.bool_]:
    """Whether a mask is set at points (..., 2); False outside the picture."""
    x, y = (np.floor(points[..., axis]).astype(int) for axis in (0, 1))
    height, width = mask.shape
    inside = (x >= 0) & (x < width) & (y >= 0) & (y < height)
    return np.asarray(inside & (mask[np.clip(y, 0, height - 1), np.clip(x, 0, width - 1)] > 0))
