"""Scripts of the shots; the script's direction is the goal's, or that of the run."""

from __future__ import annotations

import numpy as np

from models.training.script import Script
from models.training.style import Style
from models.training.throwing import throw
from models.training.writing import Writer


def _stand_or_run_in(write: Writer, busy_s: float, fastest: float = 1.6) -> tuple[float, float]:
    """Write the way of the hips before a standing shot; give first and start times."""
    lead_s = write.time(0.2, 0.8)
    step = write.between(0.1, 0.9) * write.style.pace
    if write.often(0.3):
        run_s = write.time(0.4, 1.2)
        pace = write.between(0.6, fastest) * write.style.pace
        start_s = min(busy_s, -0.4) - run_s
        write.go += [
            (start_s, 0.0, 0.0),
            (start_s + 0.5 * run_s, pace, write.between(-0.5, 0.5)),
            (-0.35, write.between(0.2, 0.9) * pace, 0.0),
            (0.0, step, 0.0),
            (0.35, 0.2 * step, 0.0),
            (0.8, 0.0, 0.0),
        ]
    else:
        start_s = busy_s
        sway = write.between(-0.25, 0.25)
        write.go += [
            (busy_s, 0.0, 0.0),
            (0.6 * busy_s - 0.1, 0.4 * sway, sway),
            (-0.25, 0.6 * step, 0.0),
            (-0.02, step, write.between(-0.2, 0.2)),
            (0.3, 0.15 * step, 0.0),
            (0.7, 0.0, 0.0),
        ]
    return start_s - lead_s, start_s


def high_to_low_shot(style: Style, chance: np.random.Generator) -> Script:
    """Hands up high as if to shoot high, then the release low."""
    write = Writer(style, chance)
    weak = write.often(0.08)
    mirror = -1.0 if weak else 1.0
    fall_s = write.time(0.14, 0.45)
    hold_s = write.time(0.02, 0.5)
    rise_s = write.time(0.18, 0.6)
    wind_s = throw(
        write,
        low=write.between(0.10, 0.36),
        wind_s=-fall_s * write.between(0.4, 0.75) if write.often(0.6) else None,
        chest_wind=write.between(-0.1, 1.2),
        weak=weak,
    )
    high_stop_s = min(-fall_s, wind_s - 0.08)
    high_start_s = high_stop_s - hold_s
    top = np.array([write.between(-0.05, 0.2), mirror * write.between(-0.2, 0.02),
                    write.between(0.40, 0.66)])  # fmt: skip
    bottom = top + write.between(0.12, 0.28) * np.array(
        [write.between(-0.2, 0.7), mirror * write.between(0.1, 0.9), write.between(-1.2, 0.0)]
    )
    drift = np.array([0.02, 0.0, write.between(-0.03, 0.03)])
    write.hold(high_start_s, top, bottom, weak=weak)
    write.hold(high_stop_s, top + drift, bottom + drift, weak=weak)
    busy_s = high_start_s - rise_s
    write.carry(busy_s, weak=weak)
    first_s, start_s = _stand_or_run_in(write, busy_s)
    write.chest.append((busy_s, write.between(-0.9, 0.6)))
    dip = write.between(0.0, 0.06)
    write.hip += [(busy_s, style.hip), (high_stop_s, style.hip + write.between(-0.01, 0.03)),
                  (0.0, style.hip - dip), (0.8, style.hip)]  # fmt: skip
    write.head += [(busy_s, 0.0), (high_stop_s, write.between(-0.1, 0.4)),
                   (0.0, write.between(-0.4, 0.1)), (0.7, 0.0)]  # fmt: skip
    return write.write("high_to_low_shot", first_s, write.time(0.9, 1.5), start_s, None)


def low_to_high_shot(style: Style, chance: np.random.Generator) -> Script:
    """Hands and head dip low, lift, and the shot goes high or sidearm."""
    write = Writer(style, chance)
    weak = write.often(0.08)
    mirror = -1.0 if weak else 1.0
    lift_s = write.time(0.18, 0.5)
    wind_s = throw(write, low=-write.between(0.0, 0.25), chest_wind=write.between(0.0, 1.2),
                   wind_s=-write.time(0.12, 0.3) if write.often(0.5) else None,
                   weak=weak)  # fmt: skip
    low_stop_s = wind_s - lift_s
    low_start_s = low_stop_s - write.time(0.0, 0.3)
    busy_s = low_start_s - write.time(0.15, 0.5)
    top = np.array([write.between(0.05, 0.32), mirror * write.between(-0.3, 0.02),
                    write.between(-0.2, 0.06)])  # fmt: skip
    bottom = top + write.between(0.12, 0.28) * np.array(
        [write.between(-0.8, 0.5), mirror * write.between(0.3, 0.9), write.between(-0.4, 0.5)]
    )
    write.hold(low_start_s, top, bottom, weak=weak)
    write.hold(low_stop_s, write.jitter(top, 0.015), write.jitter(bottom, 0.015), weak=weak)
    write.carry(busy_s, weak=weak)
    first_s, start_s = _stand_or_run_in(write, busy_s)
    write.chest.append((busy_s, write.between(-0.8, 0.6)))
    dip = write.between(0.02, 0.13)
    write.hip += [(busy_s, style.hip), (low_start_s, style.hip - dip),
                  (low_stop_s, style.hip - dip * write.between(0.6, 1.0)),
                  (wind_s, style.hip + write.between(-0.02, 0.02)),
                  (0.8, style.hip)]  # fmt: skip
    write.lean += [(busy_s, 0.0, 0.0),
                   (0.5 * (low_start_s + low_stop_s), write.between(0.25, 0.9), 0.0)]  # fmt: skip
    write.head += [(busy_s, 0.0), (low_start_s, -write.between(0.1, 0.7)),
                   (wind_s, write.between(-0.2, 0.3)), (0.6, 0.0)]  # fmt: skip
    return write.write("low_to_high_shot", first_s, write.time(0.9, 1.5), start_s, None)


def step_down_shot(style: Style, chance: np.random.Generator) -> Script:
    """Set feet or one crow-hop, and time to wind up."""
    write = Writer(style, chance)
    weak = write.often(0.08)
    cocked_s = write.time(0.05, 0.6)
    wind_s = throw(write, chest_wind=write.between(0.5, 1.9), low=write.between(-0.1, 0.06),
                   weak=weak)  # fmt: skip
    busy_s = wind_s - cocked_s - write.time(0.2, 0.6)
    _linger(write, wind_s, wind_s - cocked_s)
    write.carry(busy_s, weak=weak)
    stride = write.between(0.5, 2.0) * style.pace
    lead_s = write.time(0.2, 0.8)
    start_s = busy_s
    if write.often(0.55):  # a crow-hop
        hop_s = min(wind_s, -0.25)
        start_s = min(busy_s, hop_s - 0.5)
        hop = write.between(0.5, 1.7) * style.pace
        write.go += [(start_s, 0.0, 0.0), (hop_s - 0.15, hop, write.between(-0.4, 0.4)),
                     (hop_s + 0.08, 0.6 * hop, 0.0)]  # fmt: skip
        lift = write.between(0.0, 0.04)
        write.hip += [
            (start_s, style.hip),
            (hop_s - 0.28, style.hip - 0.02),
            (hop_s - 0.1, style.hip + lift),
            (hop_s + 0.08, style.hip - 0.02),
        ]
    else:
        write.go += [(busy_s, 0.0, 0.0), (wind_s - 0.15, write.between(-0.4, 0.3), 0.0)]
        write.hip += [(busy_s, style.hip), (wind_s - 0.1, style.hip - write.between(-0.01, 0.05))]
    write.go += [(-0.12, stride, 0.0), (0.15, 0.5 * stride, 0.0), (0.6, 0.1, 0.0), (0.9, 0.0, 0.0)]
    write.hip += [(0.0, style.hip - write.between(0.0, 0.06)), (0.8, style.hip)]
    write.chest.append((busy_s, write.between(-1.2, 0.4)))
    return write.write("step_down_shot", start_s - lead_s, write.time(0.9, 1.6), start_s, None)


def _linger(write: Writer, wind_s: float, cocked_s: float) -> None:
    """Reach the wind-up early and stay about there."""
    (key,) = [key for key in write.hands if key[0] == wind_s]
    moved = np.array(key[1:]) + write.chance.normal(0.0, 0.02, 6)
    write.hands.append((cocked_s, *moved))


def on_the_run_shot(style: Style, chance: np.random.Generator) -> Script:
    """Write a shot while running, hips turned to the goal; the direction is that of the run."""
    write = Writer(style, chance)
    weak = write.often(0.08)
    mirror = -1.0 if weak else 1.0
    pace = write.between(1.5, 3.8) * style.pace
    aim = mirror * write.between(-0.3, 1.5) * write.sign(0.85)
    wind_s = throw(write, aim=aim, chest_wind=write.between(0.1, 1.3),
                   low=write.between(-0.1, 0.12), weak=weak)  # fmt: skip
    busy_s = wind_s - write.time(0.15, 0.5)
    write.carry(busy_s, weak=weak)
    run_s = write.between(0.8, 2.6)
    start_s = min(busy_s, -run_s)
    kept = write.between(0.6, 1.1)
    bend = write.between(-0.35, 0.35)
    after_s = write.between(0.6, 1.4)
    write.go += [
        (start_s, 0.0, 0.0),
        (start_s + write.between(0.3, 0.7), 0.9 * pace, -bend * pace),
        (-0.3, pace, 0.0),
        (0.1, kept * pace, bend * pace),
        (0.4, 0.8 * kept * pace, bend * pace),
        (after_s + 0.4, 0.0, 0.0),
    ]
    write.chest += [(start_s, write.between(-0.4, 0.4)), (busy_s - 0.1, write.between(-0.5, 0.5)),
                    (after_s + 0.3, write.between(-0.3, 0.3))]  # fmt: skip
    write.twist += [(busy_s - 0.2, write.between(-0.2, 0.2))]
    write.hip += [(start_s, style.hip), (-0.5, style.hip - write.between(0.0, 0.03)),
                  (after_s + 0.3, style.hip)]  # fmt: skip
    return write.write(
        "on_the_run_shot", start_s - write.time(0.2, 0.6), after_s + 0.6, start_s, None
    )
