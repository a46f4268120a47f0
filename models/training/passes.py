"""Scripts of the throwback passes; the script's direction is that of the run-in."""

from __future__ import annotations

import numpy as np

from models.training.script import Script
from models.training.style import Style
from models.training.throwing import throw
from models.training.writing import Writer


def throwback_pass(style: Style, chance: np.random.Generator) -> Script:
    """Run, plant, one step away from the pressure, and a pass across the body, chest open."""
    write = Writer(style, chance)
    weak = write.often(0.08)
    mirror = -1.0 if weak else 1.0
    pace = write.between(1.4, 3.4) * style.pace
    plant_s = -write.between(0.5, 1.15)
    step = write.between(0.6, 3.0)
    aim = mirror * write.between(0.0, 1.6) * write.sign(0.3)
    wind_s = throw(write, aim=aim, chest_wind=write.between(0.0, 1.0),
                   low=write.between(-0.1, 0.14), weak=weak)  # fmt: skip
    busy_s = min(wind_s - write.time(0.1, 0.4), -0.25)
    write.carry(busy_s, weak=weak)
    run_s = write.between(0.9, 2.4)
    start_s = plant_s - run_s
    side = write.between(-0.6, 0.6)
    write.go += [
        (start_s, 0.0, 0.0),
        (start_s + write.between(0.3, 0.7), pace, 0.0),
        (plant_s - 0.08, write.between(0.7, 1.0) * pace, 0.0),
        (plant_s + write.between(0.14, 0.28), 0.0, 0.0),
        (plant_s + write.between(0.3, 0.42), -step, side),
        (-write.between(0.02, 0.12), write.between(-0.2, 0.3), 0.0),
        (0.3, write.between(0.0, 0.4), 0.0),
        (0.7, 0.0, 0.0),
    ]
    write.chest += [(start_s, 0.0), (plant_s - 0.1, write.between(-0.2, 0.3)),
                    (1.2, aim * write.between(0.0, 1.0))]  # fmt: skip
    sink = write.between(0.0, 0.07)
    write.hip += [(start_s, style.hip), (plant_s, style.hip), (plant_s + 0.2, style.hip - sink),
                  (-0.1, style.hip - 0.3 * sink), (0.6, style.hip)]  # fmt: skip
    write.lean += [(plant_s + 0.1, -write.between(0.0, 0.25), 0.0)]
    return write.write(
        "throwback_pass", start_s - write.time(0.2, 0.6), write.time(0.9, 1.5), start_s, None
    )


def pivot_throwback_pass(style: Style, chance: np.random.Generator) -> Script:
    """In the weak hand after a split: plant, turn on that foot, retreat, and throw back."""
    write = Writer(style, chance)
    pace = write.between(1.4, 3.3) * style.pace
    plant_s = -write.between(0.7, 1.7)
    turn_s = min(write.between(0.3, 0.7), -plant_s - 0.35)
    way = write.sign(0.6)
    turned = way * write.between(1.7, 3.5)
    wind_s = throw(write, aim=turned + write.between(-0.6, 0.6),
                   chest_wind=write.between(-0.1, 0.9), weak=True)  # fmt: skip
    write.carry(min(wind_s - write.time(0.1, 0.3), -0.25), weak=True)
    run_s = write.between(0.8, 1.8)
    start_s = plant_s - run_s
    back = write.between(0.8, 2.6) * style.pace
    if write.often(0.6):  # the split is in view
        split_s = start_s + write.between(0.25, 0.6)
        write.carry(split_s - 0.15)
        write.carry(split_s + write.between(0.1, 0.3), weak=True)
        aside = write.between(0.3, 1.2)
        write.go += [(split_s - 0.2, 0.8 * pace, -aside), (split_s + 0.25, 0.8 * pace, aside)]
    else:
        write.carry(start_s, weak=True)
    write.go += [
        (start_s - 0.1, 0.0, 0.0),
        (plant_s - 0.1, pace, 0.0),
        (plant_s + 0.2, 0.1 * pace, 0.0),
        (plant_s + write.between(0.4, 0.6), -back, write.between(-0.3, 0.3)),
        (-0.2, -back * write.between(0.1, 0.9), 0.0),
        (0.15, -0.3 * back, 0.0),
        (0.6, 0.0, 0.0),
    ]
    write.chest = [key for key in write.chest if key[0] > plant_s + turn_s]
    write.chest += [(start_s, 0.0), (plant_s - 0.1, write.between(-0.2, 0.2)),
                    (plant_s + turn_s, turned * write.between(0.7, 1.0))]  # fmt: skip
    sink = write.between(0.0, 0.06)
    write.hip += [(plant_s - 0.1, style.hip), (plant_s + 0.2, style.hip - sink),
                  (-0.2, style.hip)]  # fmt: skip
    return write.write(
        "pivot_throwback_pass", start_s - write.time(0.2, 0.6), write.time(0.9, 1.5), start_s, None
    )
