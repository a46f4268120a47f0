"""The plain data that flows between the steps: frozen dataclasses over NumPy arrays, missing = NaN.

Frames of reference (all right-handed, metres unless the name has another unit):

image
    x right, y down, px of the upright picture (rotation applied), origin top left; where a lens
    profile is known, the scene is solved in the picture that it makes straight.
camera
    x right, y down, z forward (the pinhole convention of OpenCV), origin at the optical centre.
field
    z up; without a goal mark: origin on the ground below the athlete's mid-foot at the start of the
    clip, y away from the camera, x to the camera's right.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Literal

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.floating]
BoolArray = npt.NDArray[np.bool_]
IndexArray = npt.NDArray[np.int64]
Pair = tuple[float, float]

Hand = Literal["left", "right"]
Grade = Literal["A", "B", "C"]

LANDMARKS = (
    "nose", "left_eye_inner", "left_eye", "left_eye_outer", "right_eye_inner", "right_eye",
    "right_eye_outer", "left_ear", "right_ear", "mouth_left", "mouth_right", "left_shoulder",
    "right_shoulder", "left_elbow", "right_elbow", "left_wrist", "right_wrist",
    "left_little_finger", "right_little_finger", "left_index_finger", "right_index_finger",
    "left_thumb", "right_thumb", "left_hip", "right_hip", "left_knee", "right_knee",
    "left_ankle", "right_ankle", "left_heel", "right_heel", "left_toe", "right_toe",
)  # fmt: skip
"""The 33 points of the pose model, in its own order."""

JOINTS = (
    "nose", "left_eye", "right_eye", "left_ear", "right_ear", "left_shoulder", "right_shoulder",
    "left_elbow", "right_elbow", "left_wrist", "right_wrist", "left_hand", "right_hand",
    "left_hip", "right_hip", "left_knee", "right_knee", "left_ankle", "right_ankle",
    "left_heel", "right_heel", "left_toe", "right_toe",
)  # fmt: skip
"""The joints that are measured. A hand is the centre of the grip on the shaft, not the wrist."""


def _require_shape(name: str, array: npt.NDArray[np.generic], *shape: int | None) -> None:
    """Raise ``ValueError`` unless `array` has the stated shape (None = any length)."""
    fits = array.ndim == len(shape) and all(
        want is None or want == got for want, got in zip(shape, array.shape, strict=True)
    )
    if not fits:
        raise ValueError(f"{name} must have shape {shape}, but got {array.shape}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Clip:
    """What is known of a film file once it has been read.

    Attributes
    ----------
    path
        The file.
    digest
        SHA-256 of its bytes, hexadecimal.
    width_px, height_px
        Size of the upright picture.
    rotation_deg
        Clockwise turn that was applied to make it upright (0, 90, 180 or 270).
    mirrored
        Whether the picture was flipped back from a mirrored (selfie) recording.
    time_s
        (n_frames,) presentation time of each decoded frame from the first one, at the true rate.
    n_undecoded
        Frames that were in the file and could not be decoded.
    """

    path: Path
    digest: str
    width_px: int
    height_px: int
    rotation_deg: int
    mirrored: bool
    time_s: FloatArray
    n_undecoded: int = 0

    def __post_init__(self) -> None:
        _require_shape("time_s", self.time_s, None)

    @property
    def n_frames(self) -> int:
        """Number of decoded frames."""
        return int(self.time_s.size)

    @property
    def frame_rate_hz(self) -> float:
        """Median frame rate; NaN for a single frame. Never used to compute a time."""
        if self.time_s.size < 2:
            return float("nan")
        return float(1.0 / np.median(np.diff(self.time_s)))


@dataclass(frozen=True, slots=True, kw_only=True)
class LensProfile:
    """The lens of one phone in one video mode; uncertainties are standard uncertainties (k = 1).

    Attributes
    ----------
    name
        What the phone and the mode are called.
    width_px, height_px
        Size of the upright picture for which all the pixels below hold.
    rotation_deg
        Clockwise turn (0, 90, 180 or 270) by which stored pictures became that upright picture.
    focal_px, u_focal_px
        Focal length in widths and in heights of a pixel.
    principal_px, u_principal_px
        Principal point from the left and the top edge of the picture.
    distortion, u_distortion
        k1, k2, p1, p2 on slopes (x / z, y / z); sources in `calibration.lens_profile`.
    reprojection_px
        Root mean square distance of the board's corners from where the profile puts them.
    n_views
        Views of the board that it was solved from.
    made_on
        The day.
    """

    name: str
    width_px: int
    height_px: int
    rotation_deg: int
    focal_px: Pair
    u_focal_px: Pair
    principal_px: Pair
    u_principal_px: Pair
    distortion: tuple[float, float, float, float]
    u_distortion: tuple[float, float, float, float]
    reprojection_px: float
    n_views: int
    made_on: date

    @property
    def straight_focal_px(self) -> float:
        """Focal length of the straight picture, in which pixels are square."""
        return math.sqrt(self.focal_px[0] * self.focal_px[1])

    @property
    def u_log_focal(self) -> float:
        """Relative standard uncertainty of the focal length; the worse of the two directions."""
        pairs = zip(self.u_focal_px, self.focal_px, strict=True)
        return max(u_px / focal_px for u_px, focal_px in pairs)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tracks:
    """Raw body landmarks of each followed person: athlete first, then the defender if any.

    Attributes
    ----------
    image_px
        (n_people, n_frames, 33, 2) landmarks in the image frame; NaN where not found.
    world_m
        (n_people, n_frames, 33, 3) the model's own metric landmarks: origin mid-hip, axes of the
        camera (x right, y down, z away), size of a typical adult and not of this person.
    visibility
        (n_people, n_frames, 33) the model's visibility, 0 to 1; NaN where not found.
    overlapped
        (n_people, n_frames) true where another person's body covers or touches this one.
    camera_shift_px
        (n_frames, 4, 2) movement of the background at four places since the first frame, px;
        NaN = unknown or not sampled, infinite = out of sight for good; see ``stillness``.
    camera_misfit_px
        (n_frames,) how far the background lay from where a camera that only turns would have put
        it, px: more than a little where the camera travelled; NaN as above.
    computed
        (n_frames,) true where the pose model ran; None = in every frame. All people are missing
        in the other frames.
    """

    image_px: FloatArray
    world_m: FloatArray
    visibility: FloatArray
    overlapped: BoolArray
    camera_shift_px: FloatArray
    camera_misfit_px: FloatArray
    computed: BoolArray | None = None

    def __post_init__(self) -> None:
        n_people, n_frames = self.overlapped.shape
        _require_shape("image_px", self.image_px, n_people, n_frames, 33, 2)
        _require_shape("world_m", self.world_m, n_people, n_frames, 33, 3)
        _require_shape("visibility", self.visibility, n_people, n_frames, 33)
        _require_shape("camera_shift_px", self.camera_shift_px, n_frames, 4, 2)
        _require_shape("camera_misfit_px", self.camera_misfit_px, n_frames)
        if self.computed is not None:
            _require_shape("computed", self.computed, n_frames)

    @property
    def share_computed(self) -> float:
        """Share of the frames in which the pose model ran, 0 to 1."""
        return (
            1.0 if self.computed is None or not self.computed.size else float(self.computed.mean())
        )

    @property
    def n_people(self) -> int:
        """Number of people followed."""
        return int(self.overlapped.shape[0])

    @property
    def found(self) -> BoolArray:
        """(n_people, n_frames) true where a person's landmarks were found."""
        return np.isfinite(self.image_px[..., 0, 0])


@dataclass(frozen=True, slots=True, kw_only=True)
class SmoothTracks:
    """Clean joint tracks: gaps filled, outliers rejected, low-passed; see ``smoothing``.

    Attributes
    ----------
    time_s
        (n_frames,) times.
    image_px
        (n_people, n_frames, 23, 2) joints (`JOINTS`) in the image frame; NaN in long gaps.
    body_m
        (n_people, n_frames, 23, 3) joints relative to mid-hip in camera axes, model size.
    noise_px
        (n_people, n_frames, 23) standard deviation of a smoothed coordinate, from
        the joint's own residual, its visibility, and other bodies in its way.
    overlapped
        (n_people, n_frames) as in `Tracks`.
    model
        Pose model that found them, as in the settings.
    """

    time_s: FloatArray
    image_px: FloatArray
    body_m: FloatArray
    noise_px: FloatArray
    overlapped: BoolArray
    model: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """The camera over flat ground, as draws of what it may be; draw 0 is the best estimate.

    Field axes: origin on the ground below the camera, z up,
    y the camera's forward direction along the ground.

    Attributes
    ----------
    grade
        A marked field, B known athlete, C body scale only.
    focal_px, pitch_deg, roll_deg, height_m
        (n_draws,) focal length; tilt of the optical axis below level; turn of the camera about it,
        clockwise seen from behind; height of the optical centre above the ground.
    principal_px
        (2,) principal point.
    stature_m, body_scale
        (n_draws,) the athlete's stature; factor from model-size metres to this athlete's metres.
    unsteady_px
        Standard deviation of what is left of the camera's movement in a steadied picture, px; 0
        for a camera that stood still.
    notes
        Sentences on how the scale is known, for the report.
    no_ground
        Why there is no ground, as half a sentence; None but in grade C.
    lens
        The lens that was measured, for this picture; None = a typical one without distortion.
    goal_m
        (n_draws, 2, 2) x and y of the inner edges of the goal's posts on the ground; None where no
        goal was marked.
    """

    grade: Grade
    focal_px: FloatArray
    pitch_deg: FloatArray
    roll_deg: FloatArray
    height_m: FloatArray
    principal_px: FloatArray
    stature_m: FloatArray
    body_scale: FloatArray
    unsteady_px: float = 0.0
    notes: tuple[str, ...] = ()
    no_ground: str | None = None
    lens: LensProfile | None = None
    goal_m: FloatArray | None = None

    @property
    def n_draws(self) -> int:
        """Number of draws, the best estimate included."""
        return int(self.focal_px.size)


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """Joints of one person in the field frame over a span of frames.

    Attributes
    ----------
    time_s
        (n_frames,) times from the clip's first frame.
    first_frame
        Index in the clip of the first of these frames.
    joints_m
        (n_draws, n_frames, 23, 3) joints (`JOINTS`); draw 0 is the best estimate; NaN = unknown.
    contact
        (n_frames, 2) whether the left and the right foot stand on the ground.
    landed
        (n_frames, 2) whether they land in this frame: the first on the ground after a swing.
    stature_m
        (n_draws,) stature of this person.
    arm_length_m
        (n_draws,) shoulder to finger tip of this person; NaN where it could not be read.
    """

    time_s: FloatArray
    first_frame: int
    joints_m: FloatArray
    contact: BoolArray
    landed: BoolArray
    stature_m: FloatArray
    arm_length_m: FloatArray

    def __post_init__(self) -> None:
        n_frames = self.time_s.size
        _require_shape("joints_m", self.joints_m, None, n_frames, len(JOINTS), 3)
        _require_shape("contact", self.contact, n_frames, 2)
        _require_shape("landed", self.landed, n_frames, 2)

    def joint(self, name: str) -> FloatArray:
        """(n_draws, n_frames, 3) of one joint by its name in `JOINTS`."""
        return self.joints_m[:, :, JOINTS.index(name)]

    def middle(self, part: str) -> FloatArray:
        """(n_draws, n_frames, 3) half way between the left and the right joint of that name."""
        return 0.5 * (self.joint(f"left_{part}") + self.joint(f"right_{part}"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """An instant inside a rep.

    Attributes
    ----------
    time_s, u_s
        Time from the clip's first frame, and its standard uncertainty.
    frame
        Index of the nearest frame of the clip.
    """

    time_s: float
    frame: int
    u_s: float = float("nan")


@dataclass(frozen=True, slots=True, kw_only=True)
class Rep:
    """One repetition: its window, events and move.

    Attributes
    ----------
    index
        From 1, in the order of the clip.
    start_s, stop_s
        Window in clip time.
    start_frame, stop_frame
        The same as frame indices, stop not included.
    move
        Key in the move table.
    stick_hand
        Side of the top hand at the key event; None if unknown.
    events
        By name.
    move_probability
        Probability that it is this move: 1 where the user set the move.
    move_by
        Who named the move: the user ("told") or the program ("found").
    """

    index: int
    start_s: float
    stop_s: float
    start_frame: int
    stop_frame: int
    move: str
    stick_hand: Hand | None
    events: Mapping[str, Event] = field(default_factory=dict)
    move_probability: float = 1.0
    move_by: Literal["told", "found"] = "told"
