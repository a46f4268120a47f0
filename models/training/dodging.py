"""Scripts of the dodges; the script's direction is that of the run-in, time 0 the change itself."""

from __future__ import annotations

import numpy as np

from models.training.script import Script
from models.training.style import Style
from models.training.writing import Writer


def _run_in(write: Writer, pace: float, until_s: float) -> tuple[float, float]:
    """Write the run-in to a time; give first and start times."""
    run_s = write.between(0.6, 2.2)
    start_s = until_s - run_s
    drift = write.between(-0.25, 0.25)
    write.go += [
        (start_s, 0.0, 0.0),
        (start_s + write.between(0.3, 0.6) * min(run_s, 1.2), 0.9 * pace, drift * pace),
        (until_s, pace, 0.0),
    ]
    return start_s - write.time(0.2, 0.7), start_s


def _burst_out(write: Writer, from_s: float, pace: float, way: float) -> float:
    """Write the drive away after the change; give the time at which it has slowed to half."""
    out_s = from_s + write.between(0.5, 1.3)
    cosine, sine = np.cos(way), np.sin(way)
    bend = write.between(-0.3, 0.3)
    write.go += [
        (from_s + 0.05, pace * cosine, pace * sine),
        (0.5 * (from_s + out_s), 1.05 * pace * np.cos(way + bend / 2),
         1.05 * pace * np.sin(way + bend / 2)),
        (out_s - 0.2, pace * np.cos(way + bend), pace * np.sin(way + bend)),
        (out_s + 0.2, 0.4 * pace * np.cos(way + bend), 0.4 * pace * np.sin(way + bend)),
        (out_s + 0.7, 0.0, 0.0),
    ]  # fmt: skip
    return out_s + 0.1


def _dip(write: Writer, start_s: float, at_s: float, stop_s: float, deep: float = 0.07) -> None:
    """Sink into the plant and come up again."""
    hip = write.style.hip
    write.hip += [(start_s, hip), (at_s - 0.3, hip - 0.01), (at_s, hip - write.between(0.0, deep)),
                  (at_s + 0.4, hip - write.between(0.0, 0.02)), (stop_s, hip)]  # fmt: skip


def _protect(write: Writer) -> None:
    """Draw the stick away from the defender, or along with the cut, or keep it where it is."""
    style = write.style
    if write.often(0.2):
        return
    at_s, strong = -write.between(0.0, 0.3), write.between(0.3, 1.6)
    for _ in range(int(write.chance.integers(1, 4))):
        moved = strong * write.chance.normal(0.0, 1.0, 3) * [0.07, 0.06, 0.06]
        write.hold(at_s, style.carry_top + moved,
                   style.carry_bottom + write.between(0.2, 1.1) * moved)  # fmt: skip
        at_s += write.between(0.1, 0.35)


def split_dodge(style: Style, chance: np.random.Generator) -> Script:
    """Write a jab step one way, the hands change, the drive goes the other way."""
    write = Writer(style, chance)
    pace = write.between(1.2, 3.6) * style.pace
    jab_s = -write.between(0.15, 0.35)
    first_s, start_s = _run_in(write, pace, jab_s - write.between(0.1, 0.3))
    jab = -write.between(0.1, 1.0)  # to the right: the stick is in the right hand
    slow = write.between(0.45, 1.0)
    write.go.append((jab_s, slow * pace * np.cos(jab), slow * pace * np.sin(jab)))
    way = write.between(0.35, 1.5)
    write.go.append((write.between(0.0, 0.08), write.between(0.3, 0.8) * pace, 0.0))
    stop_s = _burst_out(write, write.between(0.15, 0.3), pace * write.between(0.8, 1.25), way)
    if write.often(0.3):  # straight on again once past him
        write.go.append((stop_s - 0.35, pace, 0.3 * pace * np.sin(way)))
    switch_s = write.between(-0.25, 0.12)
    took_s = write.time(0.12, 0.42)
    write.carry(start_s)
    out = write.jitter(style.carry_top, 0.05) + [0.03, write.between(-0.12, 0.0), 0.0]
    write.hold(switch_s - 0.05, out, write.jitter(style.carry_bottom, 0.05))
    middle = np.array([write.between(0.1, 0.3), 0.0, write.between(0.0, 0.35)])
    apart = write.between(0.02, 0.10)
    write.hold(switch_s + 0.5 * took_s, middle + [0, -apart, 0], middle + [0, apart, 0])
    write.carry(switch_s + took_s, weak=True, spread=0.05)
    write.carry(stop_s + 0.5, weak=True)
    turn = write.between(0.3, 1.1)
    write.chest += [(start_s, 0.0), (jab_s, turn * jab), (0.25, turn * way),
                    (stop_s, way * write.between(0.7, 1.1))]  # fmt: skip
    write.lean += [(jab_s - 0.2, 0.0, 0.0), (jab_s, 0.1, -write.between(0.0, 0.3)),
                   (0.25, 0.15, write.between(0.0, 0.3)), (stop_s, 0.0, 0.0)]  # fmt: skip
    _dip(write, start_s, 0.5 * jab_s, stop_s)
    return write.write("split_dodge", first_s, stop_s + write.time(0.4, 0.9), start_s, stop_s)


def angle_cut_dodge(style: Style, chance: np.random.Generator) -> Script:
    """Write a run at an angle across the defender and a hard cut back, no change of hands."""
    write = Writer(style, chance)
    side = write.sign()
    pace = write.between(1.5, 3.6) * style.pace
    first_s, start_s = _run_in(write, pace, -write.between(0.12, 0.3))
    way = side * write.between(0.7, 2.2)
    slow = write.between(0.3, 0.85)
    write.go.append((write.between(-0.02, 0.06), slow * pace * np.cos(way / 2),
                     slow * pace * np.sin(way / 2)))  # fmt: skip
    stop_s = _burst_out(write, write.between(0.14, 0.35), pace * write.between(0.8, 1.2), way)
    write.carry(start_s)
    _protect(write)
    write.carry(stop_s)
    turn = write.between(0.2, 1.1)
    write.chest += [(start_s, write.between(-0.5, 0.5)), (-0.15, write.between(-0.5, 0.2) * side),
                    (0.25, turn * way + write.chance.normal(0.0, 0.3)),
                    (stop_s, way * write.between(0.7, 1.1))]  # fmt: skip
    write.lean += [(-0.25, 0.05, 0.0), (0.0, 0.1, side * write.between(0.0, 0.35)),
                   (stop_s, 0.0, 0.0)]  # fmt: skip
    _dip(write, start_s, 0.0, stop_s)
    return write.write("angle_cut_dodge", first_s, stop_s + write.time(0.4, 0.9), start_s, stop_s)


def close_gap_dodge(style: Style, chance: np.random.Generator) -> Script:
    """Write a run at the defender until barely out of his reach, and a burst past him."""
    write = Writer(style, chance)
    side = write.sign()
    pace = write.between(1.3, 3.2) * style.pace
    until_s = -write.between(0.08, 0.25)
    first_s, start_s = _run_in(write, pace, until_s)
    slow = write.between(0.5, 1.05)
    way = side * write.between(0.3, 1.25)
    write.go.append((write.between(-0.02, 0.05), slow * pace * np.cos(way / 2),
                     slow * pace * np.sin(way / 2)))  # fmt: skip
    faster = write.between(0.95, 1.5)
    past_s = write.between(0.15, 0.35)
    stop_s = _burst_out(write, past_s, pace * faster, way)
    if write.often(0.5):  # bends back to the goal once past him
        turned = way * write.between(-0.3, 0.6)
        write.go.append((past_s + 0.45, pace * faster * np.cos(turned),
                         pace * faster * np.sin(turned)))  # fmt: skip
    write.carry(start_s)
    _protect(write)
    write.carry(stop_s)
    turn, open_chest = write.between(0.3, 1.2), write.chance.normal(0.0, 0.4)
    write.chest += [
        (start_s, 0.0),
        (-0.1, write.between(-0.3, 0.3)),
        (0.25, turn * way + open_chest),
        (stop_s, way + 0.5 * open_chest),
    ]
    write.lean += [(-0.2, 0.0, 0.0), (0.2, write.between(0.0, 0.3), side * 0.1), (stop_s, 0.0, 0.0)]
    _dip(write, start_s, 0.0, stop_s, deep=0.05)
    return write.write("close_gap_dodge", first_s, stop_s + write.time(0.4, 0.9), start_s, stop_s)


def roll_dodge(style: Style, chance: np.random.Generator) -> Script:
    """Plant, the back turned to the defender, a roll off him; or two of them."""
    write = Writer(style, chance)
    pace = write.between(1.0, 3.0) * style.pace
    spin_s = write.time(0.45, 1.25)
    first_s, start_s = _run_in(write, pace, -0.5 * spin_s - write.between(0.0, 0.15))
    side = write.sign(0.75)  # most turn away from the stick in the right hand
    weak_after = write.often(0.5)
    way = side * write.between(0.2, 1.5)
    slow = write.between(0.1, 0.6)
    write.go += [
        (-0.1, slow * pace, 0.0),
        (0.12, slow * pace * np.cos(way), slow * pace * np.sin(way)),
    ]
    full = side * 2 * np.pi
    write.chest += [(start_s, 0.0), (-0.5 * spin_s, -side * write.between(-0.3, 0.3))]
    twice = write.often(0.25)
    if twice:
        wide = side * write.between(1.9, 3.4)
        gap_s = write.time(0.15, 0.45)
        write.chest += [(0.3 * spin_s, wide), (0.3 * spin_s + gap_s, wide),
                        (1.3 * spin_s + gap_s, -side * write.between(0.5, 2.2))]  # fmt: skip
        end_s, last = 1.3 * spin_s + gap_s, write.chest[-1][1]
        way = last * 0.6
    else:
        # Round by the back: the chest ends up facing the new way after nearly a whole turn.
        last = full * write.between(0.62, 0.9) + way * write.between(0.3, 1.0)
        write.chest += [(0.0, 0.5 * last * write.between(0.8, 1.2)), (0.5 * spin_s, last)]
        end_s = 0.5 * spin_s
    stop_s = _burst_out(write, end_s, pace * write.between(0.8, 1.3), way)
    write.chest.append((stop_s, last + write.between(-0.4, 0.4)))
    write.carry(start_s)
    tight = [write.between(-0.04, 0.08), write.between(0.0, 0.10), write.between(0.0, 0.12)]
    write.hold(
        -0.4 * spin_s, write.jitter(style.carry_top) + tight, write.jitter(style.carry_bottom)
    )
    write.hold(
        0.2 * spin_s, write.jitter(style.carry_top) + tight, write.jitter(style.carry_bottom)
    )
    write.carry(end_s + write.time(0.0, 0.35), weak=weak_after)
    write.carry(stop_s + 0.3, weak=weak_after)
    _dip(write, start_s, 0.0, stop_s)
    return write.write("roll_dodge", first_s, stop_s + write.time(0.4, 0.9), start_s, stop_s)


def hesitation_dodge(style: Style, chance: np.random.Generator) -> Script:
    """Write a run that slows or stops, and goes on again quickly."""
    write = Writer(style, chance)
    pace = write.between(1.5, 3.6) * style.pace
    hitch_s = write.time(0.15, 0.6)
    brake_s = write.between(0.12, 0.35)
    first_s, start_s = _run_in(write, pace, -0.5 * hitch_s - brake_s)
    low = write.between(0.02, 0.5) * pace
    way = write.between(-0.8, 0.8)
    go_s = 0.5 * hitch_s
    write.go += [(-go_s, low, write.between(-0.2, 0.2)), (go_s, low, write.between(-0.2, 0.2))]
    stop_s = _burst_out(
        write, go_s + write.between(0.15, 0.4), pace * write.between(0.8, 1.35), way
    )
    write.carry(start_s)
    if write.often(0.5):  # a look to shoot or pass
        up = np.array(
            [write.between(-0.08, 0.12), write.between(-0.06, 0.06), write.between(0.05, 0.3)]
        )
        write.hold(0.0, style.carry_top + up, style.carry_bottom + 0.8 * up)
        write.carry(go_s + write.between(0.05, 0.3))
    write.carry(stop_s)
    rise = write.between(-0.04, 0.03)
    write.hip += [
        (start_s, style.hip),
        (-go_s - brake_s, style.hip - 0.01),
        (0.0, style.hip + rise),
        (go_s + 0.15, style.hip - write.between(0.0, 0.05)),
        (stop_s, style.hip),
    ]
    open_chest = write.between(-0.7, 0.7)
    write.chest += [
        (start_s, 0.0),
        (-go_s - 0.2, 0.0),
        (0.0, open_chest),
        (go_s + 0.2, 0.7 * way),
        (stop_s, way),
    ]
    write.lean += [(-go_s - brake_s, 0.0, 0.0), (-go_s, -write.between(0.0, 0.3), 0.0),
                   (go_s + 0.15, write.between(0.0, 0.3), 0.0), (stop_s, 0.0, 0.0)]  # fmt: skip
    return write.write("hesitation_dodge", first_s, stop_s + write.time(0.4, 0.9), start_s, stop_s)
