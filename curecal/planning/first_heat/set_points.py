"""Heat-up profiles: set-points by day, gentle up, held, and down again for a bare screed."""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import date, timedelta

from curecal.errors import OutsideValidity
from curecal.planning.plan import RampStep
from curecal.planning.tolerances import HAIR_K

Profile = list[tuple[float, int]]
"""(set-point [°C], days it holds), in order."""


def list_rising(start_c: float, target_c: float, step_k: float) -> list[float]:
    """Return the set-points after the start, a step a day, up to and with the target.

    Rule: R19.

    Args:
        start_c: where it starts [°C].
        target_c: where it ends [°C]; at or below the start there is no step.
        step_k: the most a day may add [K].

    Returns:
        Set-points [°C], rising.

    Raises:
        OutsideValidity: the step is not above zero.
    """
    if not step_k > 0.0:
        raise OutsideValidity("step-not-positive", step_k=step_k)
    # A hair of a float must add no day to a ramp: 20 to 25 °C in steps of 5 K is one step.
    count = max(0, math.ceil((target_c - start_c - HAIR_K) / step_k))
    return [min(start_c + step_k * (index + 1), target_c) for index in range(count)]


def first_heat_profile(
    *, start_c: float, target_c: float, step_k: float, hold_days: int
) -> Profile:
    """Return the first heat-up under a finished floor: a day at the start, then a step a day.

    From 20 to 29 °C at 5 K: 20, 25, 29 held for three days.

    Rule: R19.

    Args:
        start_c: the floor's temperature that morning [°C].
        target_c: the lowest of all limits and the wish [°C].
        step_k: the most a day may add [K].
        hold_days: days at the target.

    Returns:
        Set-points with the days each holds.
    """
    steps = list_rising(start_c, target_c, step_k)
    if not steps:
        return [(target_c, hold_days)]
    return [(start_c, 1), *((set_c, 1) for set_c in steps[:-1]), (target_c, hold_days)]


def finished_flow_profile(flow: Profile, *, start_c: float, step_k: float) -> Profile:
    """Return flow temperatures under a finished floor: as wished, with no rise too steep.

    25 °C for 3 days and 38 °C for 4, at 5 K: 25 for three, 30, 35, 38 for four.

    Rule: R14.

    Args:
        flow: the flow temperatures wished, with their days.
        start_c: from where the first day counts as a rise [°C].
        step_k: the most a day may add [K].

    Returns:
        Flow temperatures with the days each holds.
    """
    profile: Profile = []
    last_c = start_c
    for flow_c, days in flow:
        between = list_rising(last_c, flow_c, step_k)[:-1]
        profile += [*((rising_c, 1) for rising_c in between), (flow_c, days)]
        last_c = flow_c
    return profile


def bare_screed_profile(
    *,
    start_c: float,
    middle_c: float,
    target_c: float,
    step_k: float,
    middle_days: int,
    target_days: int,
) -> Profile:
    """Return the heat-up of a bare screed by its floor sensor: up, held twice, down again.

    From 18 °C: 18, 23, 25 for three days, 29 for four, 24, 19: eleven days.

    Rule: R14.

    Args:
        start_c: the floor's temperature that morning [°C].
        middle_c: where it is first held [°C].
        target_c: the highest set-point [°C].
        step_k: the most a day may add or take away [K].
        middle_days: days at the first hold.
        target_days: days at the highest set-point.

    Returns:
        Set-points with the days each holds.
    """
    middle_c = min(middle_c, target_c)
    profile: Profile = []
    up = list_rising(start_c, middle_c, step_k)
    if up:
        profile += [(start_c, 1), *((set_c, 1) for set_c in up[:-1])]
    profile.append((middle_c, middle_days))
    further = list_rising(middle_c, target_c, step_k)
    profile += [(set_c, 1) for set_c in further[:-1]]
    if further:
        profile.append((target_c, target_days))
    else:
        profile[-1] = (middle_c, middle_days + target_days)
    # Down as gently as it went up, until one more step would be under where it started.
    down_c = target_c - step_k
    while down_c >= start_c - HAIR_K:
        profile.append((down_c, 1))
        down_c -= step_k
    return profile


def set_on_days(
    profile: Iterable[tuple[float, int]], first: date
) -> tuple[tuple[RampStep, ...], date]:
    """Return a profile on local days, and the day after its last.

    Rule: R19.

    Args:
        profile: set-points [°C] with the days each holds.
        first: the first local day.
    """
    day = first
    steps = []
    for set_c, days in profile:
        steps.append(RampStep(day, set_c, days))
        day += timedelta(days=days)
    return tuple(steps), day
