"""Move a rest body by a plan: pelvis, trunk, feet that stay put, hands on the shaft."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from .body import SEGMENTS, SOLE_M, Body
from .grips import OTHER, hand_shares
from .limbs import about_z, apply, frame, two_bones, unit
from .stick import stick_head
from .tracks import GRID_HZ, Contact, HandChange, Plan, contacts_of, heading_of, smooth

Floats = NDArray[np.float64]
_UP = np.array([0.0, 0.0, 1.0])
_TRUNK_SHARE = {"spine05": 0.2, "spine04": 0.4, "spine03": 0.65, "spine02": 0.85, "chest": 1.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """One player's motion on the grid, field frame.

    Attributes
    ----------
    time_s : array (n_times,)
    rotations : array (n_times, n_segments, 3, 3)
    origins_m : array (n_times, n_segments, 3)
        Where each segment's turning point is.
    joints_m : dict of array (n_times, 3)
        The points of the truth, ``stick_head`` and ``stick_butt`` among them.
    contacts : dict
        Planned landings by foot.
    top_side : str
        The upper hand at first.
    hand_changes : tuple of HandChange
        After the middle of each, the other hand is the upper one.
    """

    body: Body
    time_s: Floats
    rotations: Floats
    origins_m: Floats
    joints_m: dict[str, Floats]
    contacts: dict[str, list[Contact]]
    top_side: str
    hand_changes: tuple[HandChange, ...] = ()

    def top_side_at(self, time_s: float) -> str:
        """Return the side of the upper hand at one time."""
        n_changes = sum(change.middle_s <= time_s for change in self.hand_changes)
        return self.top_side if n_changes % 2 == 0 else OTHER[self.top_side]

    def between(self, first: int, last: int) -> Motion:
        """Return the rows from first to before last, with times from 0."""
        since_s = first / GRID_HZ
        return replace(
            self,
            time_s=self.time_s[first:last] - self.time_s[first],
            rotations=self.rotations[first:last],
            origins_m=self.origins_m[first:last],
            joints_m={name: path[first:last] for name, path in self.joints_m.items()},
            contacts={
                foot: [replace(c, land_s=c.land_s - since_s) for c in contacts]
                for foot, contacts in self.contacts.items()
            },
            hand_changes=tuple(
                HandChange(start_s=c.start_s - since_s, stop_s=c.stop_s - since_s)
                for c in self.hand_changes
            ),
        )

    def top_hand_m(self) -> Floats:
        """Return the grip of the upper hand, shape (n_times, 3)."""
        own = self.joints_m[f"{self.top_side}_hand"]
        if not self.hand_changes:
            return own
        middles = [change.middle_s for change in self.hand_changes]
        odd = np.searchsorted(middles, self.time_s, side="right") % 2 == 1
        return np.where(odd[:, None], self.joints_m[f"{OTHER[self.top_side]}_hand"], own)


class _Mover:
    """Work out one plan for one body; split in steps that each fill some segments."""

    def __init__(self, body: Body, plan: Plan, n_times: int) -> None:
        self.body, self.plan = body, plan
        self.time_s = np.arange(n_times) / GRID_HZ
        shape = (n_times, len(SEGMENTS))
        self.rotations = np.tile(np.eye(3), (*shape, 1, 1))
        self.origins = np.zeros((*shape, 3))
        self.path = plan.path_m.at(self.time_s)
        self.heading = heading_of(plan, self.time_s, self.path)
        self.contacts = contacts_of(plan, self.time_s, self.path, self.heading)

    def set(self, segment: str, rotation: Floats, origin: Floats) -> None:
        i = SEGMENTS.index(segment)
        self.rotations[:, i], self.origins[:, i] = rotation, origin

    def place(self, segment: str, point: Floats) -> Floats:
        i = SEGMENTS.index(segment)
        offset = point - self.body.heads_m[i]
        at: Floats = self.origins[:, i] + self.rotations[:, i] @ offset
        return at

    def _lean(self, share: float) -> Floats:
        """Tilt of the trunk: what the plan says plus what running and braking add."""
        velocity = smooth(np.gradient(self.path, self.time_s, axis=0), 0.08)
        push = smooth(np.gradient(velocity, self.time_s, axis=0), 0.06)
        tilt = 0.022 * velocity + 0.020 * push
        size = np.linalg.norm(tilt, axis=1, keepdims=True)
        tilt = tilt * np.tanh(size / 0.35) * 0.35 / np.maximum(size, 1e-9)
        own = np.deg2rad(self.plan.lean_deg.at(self.time_s))
        c, s = np.cos(self.heading), np.sin(self.heading)
        tilt = tilt + np.stack([c * own[:, 0] - s * own[:, 1], s * own[:, 0] + c * own[:, 1]], 1)
        axis = np.stack([-tilt[:, 1], tilt[:, 0], np.zeros(len(tilt))], 1)
        matrix: Floats = Rotation.from_rotvec(axis * share).as_matrix()
        return matrix

    def trunk(self) -> None:
        body, plan, t = self.body, self.plan, self.time_s
        standing = body.head_of("pelvis")[2] + SOLE_M
        height = plan.height.at(t)[:, 0] * standing
        velocity = np.linalg.norm(np.gradient(self.path, t, axis=0), axis=1)
        dip = np.zeros(len(t))
        for landing in (c for foot in self.contacts.values() for c in foot if c.land_s > 0):
            dip += np.exp(-0.5 * ((t - landing.land_s - 0.10) / 0.06) ** 2)
        height = height - smooth(0.022 * body.stature_m / 1.8 * dip * np.tanh(velocity / 2.0), 0.03)
        pelvis_turn = np.deg2rad(plan.pelvis_turn_deg.at(t)[:, 0])
        chest_turn = np.deg2rad(plan.chest_turn_deg.at(t)[:, 0])
        pelvis = self._lean(0.35) @ about_z(self.heading + pelvis_turn)
        chest = self._lean(1.0) @ about_z(self.heading + chest_turn)
        origin = np.column_stack([self.path, height])
        self.set("pelvis", pelvis, origin)
        between = Rotation.from_matrix(np.swapaxes(pelvis, 1, 2) @ chest).as_rotvec()
        before = "pelvis"
        for segment, share in _TRUNK_SHARE.items():
            rotation = pelvis @ Rotation.from_rotvec(between * share).as_matrix()
            self.set(segment, rotation, self.place(before, body.head_of(segment)))
            before = segment
        gaze = np.deg2rad(plan.gaze_turn_deg.at(t)[:, 0])
        gaze = chest_turn + np.clip(gaze - chest_turn, -1.15, 1.15)
        down = np.deg2rad(plan.gaze_down_deg.at(t)[:, 0])
        nod = Rotation.from_rotvec(down[:, None] * np.array([0.0, 1.0, 0.0])).as_matrix()
        head = self._lean(0.35) @ about_z(self.heading + gaze) @ nod
        turn = Rotation.from_matrix(np.swapaxes(chest, 1, 2) @ head).as_rotvec()
        neck = chest @ Rotation.from_rotvec(turn * 0.5).as_matrix()
        self.set("neck", neck, self.place("chest", body.head_of("neck")))
        self.set("head", head, self.place("neck", body.head_of("head")))

    def legs(self) -> None:
        from .feet import foot_poses

        body = self.body
        pelvis = self.rotations[:, SEGMENTS.index("pelvis")]
        for side, sign in (("left", 1.0), ("right", -1.0)):
            hip, knee = body.head_of(f"{side}_thigh"), body.head_of(f"{side}_shank")
            ankle = body.head_of(f"{side}_foot")
            upper = float(np.linalg.norm(knee - hip))
            lower = float(np.linalg.norm(ankle - knee))
            hip_at = self.place("pelvis", hip)
            foot, ankle_at, toes, yaw = foot_poses(
                body, side, self.contacts[side], self.time_s, hip_at, 0.985 * (upper + lower)
            )
            ahead = np.column_stack([np.cos(yaw), np.sin(yaw), 0 * yaw])
            pole = unit(ahead + pelvis[:, :, 0]) + sign * 0.12 * pelvis[:, :, 1]
            knee_at, ankle_at, normal = two_bones(
                hip_at, ankle_at, upper, lower, pole, soft_from=0.986
            )
            across = np.cross(unit(ankle - hip), np.array([1.0, 0.0, 0.0]))
            thigh = frame(knee_at - hip_at, normal) @ frame(knee - hip, across).T
            shank = frame(ankle_at - knee_at, normal) @ frame(ankle - knee, across).T
            self.set(f"{side}_thigh", thigh, hip_at)
            self.set(f"{side}_shank", shank, knee_at)
            self.set(f"{side}_foot", foot, ankle_at)
            self.set(f"{side}_toes", toes, self.place(f"{side}_foot", body.head_of(f"{side}_toes")))

    def arms(self) -> None:
        body, plan = self.body, self.plan
        grips = plan.hands.at(self.time_s) * body.stature_m
        turn = about_z(self.heading)
        floor = np.column_stack([self.path, np.zeros(len(self.path))])
        top, bottom = (floor + apply(turn, grips[:, k : k + 3]) for k in (0, 3))
        shaft = unit(top - bottom)
        self.line = top, bottom
        low_side = OTHER[plan.top_side]
        if not plan.hand_changes:
            shares = np.ones(len(top)), np.zeros(len(top))
        else:
            shares = hand_shares(plan.hand_changes, self.time_s)
        free = plan.free_hand.at(self.time_s)
        loose, away = free[:, :1], floor + apply(turn, free[:, 1:] * body.stature_m)
        for side, share in zip((plan.top_side, low_side), shares, strict=True):
            target = top if share.min() == 1 else bottom + share[:, None] * (top - bottom)
            if plan.hand_changes:
                # The hand that moves along the shaft is a little off it.
                off = np.clip(4 * share * (1 - share), 0, 1)[:, None]
                target = target + 0.03 * off * apply(turn, np.array([1.0, 0.0, 0.0]))
            if loose.any():
                lower = np.clip(1 - share, 0, 1)[:, None] * loose
                target = target + lower * (away - target)
            self._arm(side, target, shaft)

    def _arm(self, side: str, target: Floats, shaft: Floats) -> None:
        body, sign = self.body, 1.0 if side == "left" else -1.0
        collar, shoulder = body.head_of(f"{side}_collar"), body.head_of(f"{side}_upper_arm")
        elbow, wrist = body.head_of(f"{side}_forearm"), body.head_of(f"{side}_hand")
        grip = body.points_m[f"{side}_hand"]
        chest = self.rotations[:, SEGMENTS.index("chest")]
        collar_at = self.place("chest", collar)
        # The shoulder girdle follows a reaching arm by about a fifth of its turn.
        rest = apply(chest, unit(shoulder - collar))
        want = unit(target - collar_at)
        axis = unit(np.cross(rest, want))
        angle = np.arccos(np.clip((rest * want).sum(1), -1, 1))
        extra = Rotation.from_rotvec(axis * (0.22 * angle)[:, None]).as_matrix()
        self.set(f"{side}_collar", extra @ chest, collar_at)
        root = self.place(f"{side}_collar", shoulder)
        upper, lower = float(np.linalg.norm(elbow - shoulder)), float(np.linalg.norm(wrist - elbow))
        raised = np.clip((target[:, 2] - root[:, 2]) / (upper + lower) + 0.3, 0, 1)[:, None]
        pole_low = -0.35 * chest[:, :, 0] + sign * 0.75 * chest[:, :, 1] - 0.6 * _UP
        pole_high = 0.35 * chest[:, :, 0] + sign * 0.9 * chest[:, :, 1] - 0.25 * _UP
        pole = smooth(pole_low * (1 - raised) + pole_high * raised, 0.03)
        rest_hand = frame(grip - wrist, body.points_m[f"{side}_knuckle_line"])
        along = unit(target - root)
        for _ in range(4):
            hand = (
                frame(unit(along) - 0.55 * (along * shaft).sum(1, keepdims=True) * shaft, -shaft)
                @ rest_hand.T
            )
            wrist_target = target - apply(hand, grip - wrist)
            elbow_at, wrist_at, normal = two_bones(root, wrist_target, upper, lower, pole)
            along = 0.5 * along + 0.5 * unit(wrist_at - elbow_at)
        rest_normal = np.cross(wrist - shoulder, elbow - shoulder)
        arm = frame(elbow_at - root, normal) @ frame(elbow - shoulder, rest_normal).T
        twist = unit(normal) + 0.0 * shaft
        forearm = frame(wrist_at - elbow_at, twist) @ frame(wrist - elbow, rest_normal).T
        self.set(f"{side}_upper_arm", arm, root)
        self.set(f"{side}_forearm", forearm, elbow_at)
        self.set(f"{side}_hand", hand, wrist_at)

    def joints(self) -> dict[str, Floats]:
        owner = {"nose": "head", "eye": "head", "ear": "head", "heel": "foot", "toe": "toes"}
        joints: dict[str, Floats] = {}
        for name, point in self.body.points_m.items():
            if name.endswith("knuckle_line"):
                continue
            side, _, part = name.rpartition("_")
            carrier = {
                "shoulder": "upper_arm",
                "elbow": "forearm",
                "wrist": "hand",
                "hip": "thigh",
                "knee": "shank",
                "ankle": "foot",
            }.get(part, owner.get(part, part))
            joints[name] = self.place(carrier if carrier == "head" else f"{side}_{carrier}", point)
        top = joints[f"{self.plan.top_side}_hand"]
        bottom = joints[f"{OTHER[self.plan.top_side]}_hand"]
        joints["stick_head"], joints["stick_butt"] = stick_head(*self._shaft(top, bottom))
        return joints

    def _shaft(self, first: Floats, second: Floats) -> tuple[Floats, Floats]:
        """Return two points of the shaft: both hands, or the planned line where one is off it.

        ``first`` is the hand that is the upper one before any change.
        """
        plan, t = self.plan, self.time_s
        if not plan.hand_changes and not plan.free_hand.at(t)[:, 0].any():
            return first, second
        first_share, second_share = hand_shares(plan.hand_changes, t)
        changed = (second_share > first_share)[:, None]
        top, bottom = np.where(changed, second, first), np.where(changed, first, second)
        free = np.clip(4 * plan.free_hand.at(t)[:, 0], 0, 1)
        between = np.clip(8 * np.maximum(second_share * (1 - second_share), 0), 0, 1)
        between = np.maximum(between, np.clip(8 * first_share * (1 - first_share), 0, 1))
        planned = smooth(np.maximum(free, between), 0.01)[:, None]
        line = self.line
        return top + planned * (line[0] - top), bottom + planned * (line[1] - bottom)


def move_body(body: Body, plan: Plan, duration_s: float) -> Motion:
    """Return the motion of a body that follows a plan, on the grid of ``GRID_HZ``."""
    mover = _Mover(body, plan, round(duration_s * GRID_HZ) + 1)
    mover.trunk()
    mover.legs()
    mover.arms()
    return Motion(
        body=body,
        time_s=mover.time_s,
        rotations=mover.rotations,
        origins_m=mover.origins,
        joints_m=mover.joints(),
        contacts=mover.contacts,
        top_side=plan.top_side,
        hand_changes=tuple(plan.hand_changes),
    )
