"""The invented players: bodies by the body model's shape parameters, and what they wear."""

from __future__ import annotations

from dataclasses import dataclass

from .dress import Clothes


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Body and clothes of one player."""

    shape: dict[str, float]
    stature_m: float
    clothes: Clothes


def _shape(*values: float) -> dict[str, float]:
    # Gender: 0 is male, 1 female.
    names = ("gender", "age", "muscle", "weight", "height", "proportions")
    return dict(zip(names, values, strict=True))


_MAN = _shape(0.05, 0.667, 0.62, 0.46, 0.55, 0.60)
_LEAN_MAN = _shape(0.0, 0.60, 0.55, 0.36, 0.65, 0.70)
_HEAVY_MAN = _shape(0.05, 0.70, 0.70, 0.62, 0.50, 0.50)
_WOMAN = _shape(0.95, 0.62, 0.55, 0.42, 0.50, 0.60)
_STRONG_WOMAN = _shape(0.90, 0.66, 0.68, 0.52, 0.52, 0.50)
_BOY = _shape(0.15, 0.42, 0.50, 0.42, 0.50, 0.55)
_SLIM_BOY = _shape(0.1, 0.45, 0.45, 0.30, 0.55, 0.60)
_GIRL = _shape(0.90, 0.42, 0.50, 0.42, 0.50, 0.55)
_SLIM_GIRL = _shape(0.95, 0.44, 0.45, 0.33, 0.52, 0.60)

# Blue, green, red.
_LIGHT, _TAN, _BROWN, _DARK = (150, 175, 222), (115, 150, 205), (75, 105, 165), (58, 78, 122)
_RED, _BLUE, _WHITE, _GREEN = (50, 45, 190), (170, 75, 35), (232, 230, 228), (60, 140, 60)
_YELLOW, _NAVY, _BLACK, _PURPLE = (50, 205, 235), (90, 45, 25), (45, 42, 40), (130, 50, 95)
_ORANGE, _GREY, _SKY = (40, 125, 235), (125, 122, 120), (215, 165, 95)
_DARK_HAIR, _BROWN_HAIR, _FAIR_HAIR = (28, 26, 30), (35, 52, 78), (92, 148, 190)

ADULT = Person(
    shape=_MAN,
    stature_m=1.82,
    clothes=Clothes(jersey=_BLUE, shorts=_BLACK, skin=_LIGHT, hair=_BROWN_HAIR),
)
YOUTH = Person(
    shape=_GIRL,
    stature_m=1.52,
    clothes=Clothes(jersey=_RED, shorts=_NAVY, skin=_TAN, hair=_DARK_HAIR, long_hair=True),
)
LEFTY = Person(
    shape=_LEAN_MAN,
    stature_m=1.88,
    clothes=Clothes(jersey=_YELLOW, shorts=_NAVY, skin=_BROWN, hair=_DARK_HAIR),
)
GUARD = Person(
    shape=_HEAVY_MAN,
    stature_m=1.80,
    clothes=Clothes(jersey=_WHITE, shorts=_RED, skin=_LIGHT, hair=_BROWN_HAIR),
)
WOMAN = Person(
    shape=_WOMAN,
    stature_m=1.68,
    clothes=Clothes(jersey=_PURPLE, shorts=_WHITE, skin=_LIGHT, hair=_FAIR_HAIR, long_hair=True),
)
WOMAN_GUARD = Person(
    shape=_STRONG_WOMAN,
    stature_m=1.72,
    clothes=Clothes(jersey=_YELLOW, shorts=_BLACK, skin=_TAN, hair=_BROWN_HAIR, long_hair=True),
)
BOY = Person(
    shape=_BOY,
    stature_m=1.58,
    clothes=Clothes(jersey=_ORANGE, shorts=_BLACK, skin=_BROWN, hair=_DARK_HAIR, shoes=_WHITE),
)
BOY_GUARD = Person(
    shape=_SLIM_BOY,
    stature_m=1.60,
    clothes=Clothes(jersey=_SKY, shorts=_NAVY, skin=_LIGHT, hair=_FAIR_HAIR),
)
SLIM_GIRL = Person(
    shape=_SLIM_GIRL,
    stature_m=1.46,
    clothes=Clothes(jersey=_SKY, shorts=_BLACK, skin=_LIGHT, hair=_FAIR_HAIR, long_hair=True),
)
SLIM_BOY = Person(
    shape=_SLIM_BOY,
    stature_m=1.55,
    clothes=Clothes(jersey=_WHITE, shorts=_BLUE, skin=_TAN, hair=_BROWN_HAIR, socks=_BLACK),
)
HELMET_MAN = Person(
    shape=_MAN,
    stature_m=1.78,
    clothes=Clothes(
        jersey=_RED, shorts=_GREY, skin=_TAN, hair=_DARK_HAIR, helmet=_WHITE, gloves=_BLACK
    ),
)
HELMET_GUARD = Person(
    shape=_LEAN_MAN,
    stature_m=1.86,
    clothes=Clothes(
        jersey=_WHITE, shorts=_NAVY, skin=_DARK, hair=_DARK_HAIR, helmet=_NAVY, gloves=_BLACK
    ),
)
TALL_MAN = Person(
    shape=_LEAN_MAN,
    stature_m=1.93,
    clothes=Clothes(jersey=_GREY, shorts=_RED, skin=_DARK, hair=_DARK_HAIR),
)
HEAVY_MAN = Person(
    shape=_HEAVY_MAN,
    stature_m=1.75,
    clothes=Clothes(jersey=_NAVY, shorts=_GREY, skin=_LIGHT, hair=_FAIR_HAIR, shoes=_WHITE),
)
STRONG_WOMAN = Person(
    shape=_STRONG_WOMAN,
    stature_m=1.74,
    clothes=Clothes(jersey=_WHITE, shorts=_PURPLE, skin=_BROWN, hair=_DARK_HAIR, long_hair=True),
)
PLAIN_GUARD = Person(
    shape=_MAN,
    stature_m=1.76,
    clothes=Clothes(jersey=_ORANGE, shorts=_BLACK, skin=_LIGHT, hair=_DARK_HAIR),
)
