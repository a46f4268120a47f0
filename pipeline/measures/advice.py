"""What goes with the advice on one side of a measure's range, and what it pulls against."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.core.results import Side

Advice = tuple[str, Side]
"""Measure and the side on which it was wrong: ("jab_width_m", "low") calls for a wider plant."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AdviceRule:
    """What holds for the advice on one side of a measure's range.

    Attributes
    ----------
    rider
        Name of the sentence in ``[riders]`` that goes with the advice wherever it is given.
    not_beside
        Names of the prompts to look beside which it is not given, nor the measure praised.
    against
        Advice on other measures that it pulls against: the two cannot be followed at the same
        time, or each makes the other harder. It is enough that one of the two names the other.
    """

    rider: str | None = None
    not_beside: frozenset[str] = frozenset()
    against: frozenset[Advice] = frozenset()


NO_RULE = AdviceRule()


def advice_rule(
    *against: Advice, rider: str | None = None, not_beside: tuple[str, ...] = ()
) -> AdviceRule:
    """Make the rule of one side; see `AdviceRule`."""
    return AdviceRule(rider=rider, not_beside=frozenset(not_beside), against=frozenset(against))


def loads_the_knee(*against: Advice) -> AdviceRule:
    """Make the rule of advice that makes a cut quicker and loads the knee more.

    A wider and a faster cut are quicker, and the same traits raise the load on the knee [1]_;
    width, speed and angle of a cut each raise it by 12 to 19 % for one standard deviation [2]_.

    References
    ----------
    .. [1] Dos'Santos et al. (2021), Sports Medicine 51.
    .. [2] Kristianslund et al. (2014), British Journal of Sports Medicine.
    """
    return advice_rule(*against, rider="knee", not_beside=("knee_in", "trunk_over_plant"))


def turns_faster(*against: Advice) -> AdviceRule:
    """Make the rule of advice to turn further or faster.

    Players with a painful back turned 14 to 23 % slower [1]_: slow can follow pain, so that this
    is never the only sentence.

    References
    ----------
    .. [1] Wasser et al. (2024), Orthopaedic Journal of Sports Medicine 12(3).
    """
    return advice_rule(*against, rider="pain")
