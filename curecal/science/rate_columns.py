"""The rates over columns of temperature and humidity, and their integral over many segments.

What `rate` says of one instant and `segment_ages` of one segment, for a whole run at once: the
same cuts at jumps and bends, the same quadrature, the same halving until two orders agree.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curecal.science.cement import (
    ENERGY_J_PER_MOL,
    ENERGY_J_PER_MOL_K,
    GAS_CONSTANT_J_PER_MOL_K,
    REFERENCE_C,
)
from curecal.science.doubling import RESIN_DOUBLING_K
from curecal.science.humid_air import C8, C9, C10, C11, C12, C13, ZERO_CELSIUS_K
from curecal.science.rate import (
    FREEZING_C,
    CementRate,
    DryingRate,
    Rate,
    ReactionRate,
    TableRate,
    UnfrozenRate,
    UnhinderedRate,
)
from curecal.science.segment_ages import AGREE, DEEPEST, NODE_2, NODE_3

Column = NDArray[np.float64]
Places = NDArray[np.intp]
Lead = Callable[[Column, Column], Column]

_NODES = np.array([-NODE_3, -NODE_2, 0.0, NODE_2, NODE_3])[:, np.newaxis]
_LOOKS = np.linspace(0.0, 1.0, 17)[:, np.newaxis]
_TURNS = 80
_NARROW = 1e-9
"""How near a bend is found, as a part of its segment: the age only bends there, and what it is
missed by shows in its square."""


class _Pieces(NamedTuple):
    """Stretches of segments: which segment, and from where to where on its way [1]."""

    of: Places
    low: Column
    high: Column


def rates_at(rate: Rate, temperatures_c: Column, humidities: Column) -> Column:
    """Return the share that counts at each temperature and humidity [1].

    Source:
        Each rate's own; see `rate`.
    """
    return _COLUMNS.get(type(rate), _one_by_one)(rate, temperatures_c, humidities)


def ages_of(rate: Rate, instants_s: Column, temperatures_c: Column, humidities: Column) -> Column:
    """Return the age that each segment between two instants adds [s].

    Source:
        Definition: the integral of the rate over time, by Gauss-Legendre quadrature.
    """
    span_s, step_c, step_rh = np.diff(instants_s), np.diff(temperatures_c), np.diff(humidities)
    ages_s = np.zeros(len(span_s))
    pieces = _cut(rate, temperatures_c, humidities)
    depth = 0
    while True:
        of, low, high = pieces
        middle, half = (low + high) / 2.0, (high - low) / 2.0
        parts = middle + half * _NODES
        shares = rates_at(
            rate,
            temperatures_c[of] + step_c[of] * parts,
            humidities[of] + step_rh[of] * parts,
        )
        second = (shares[1] + shares[3]) / 2.0
        third = (5.0 * shares[0] + 8.0 * shares[2] + 5.0 * shares[4]) / 18.0
        # Off or at its full rate: the length itself, so that 28 days stay 28 days to the bit.
        mean = np.where((shares == shares[2]).all(axis=0), shares[2], third)
        added_s = span_s[of] * (high - low) * mean
        open_ = np.abs(mean - second) > AGREE * mean
        if depth == DEEPEST or not open_.any():
            return ages_s + np.bincount(of, added_s, len(ages_s))
        ages_s += np.bincount(of[~open_], added_s[~open_], len(ages_s))
        of, low, middle, high = of[open_], low[open_], middle[open_], high[open_]
        pieces = _Pieces(
            np.concatenate((of, of)),
            np.concatenate((low, middle)),
            np.concatenate((middle, high)),
        )
        depth += 1


def _cut(rate: Rate, temperatures_c: Column, humidities: Column) -> _Pieces:
    """Return the stretches of segments between two places where the rate jumps or bends."""
    count = len(temperatures_c) - 1
    of, at = [np.arange(count)], [np.zeros(count)]
    for values, breaks in ((temperatures_c, rate.breaks_c), (humidities, rate.breaks_rh)):
        least, most = values.min(), values.max()
        for place in breaks:
            if not least < place < most:
                continue
            below, above = values < place, values > place
            crossing = (below[:-1] & above[1:]) | (above[:-1] & below[1:])
            found = crossing.nonzero()[0]
            of.append(found)
            at.append((place - values[found]) / (values[found + 1] - values[found]))
    for lead, below_c in _leads(rate):
        found, parts = _sign_changes(lead, temperatures_c, humidities, below_c)
        of.append(found)
        at.append(parts)
    all_of, low = np.concatenate(of), np.concatenate(at)
    if len(all_of) == count:
        return _Pieces(all_of, low, np.ones(count))
    order = np.lexsort((low, all_of))
    all_of, low = all_of[order], low[order]
    high = np.ones(len(low))
    same = all_of[1:] == all_of[:-1]
    high[:-1][same] = low[1:][same]
    return _Pieces(all_of, low, high)


def _leads(rate: Rate) -> list[tuple[Lead, float]]:
    """Return what changes its sign where a rate bends besides, each with how warm that may be.

    All of them rise with the temperature and fall with the humidity.
    """
    match rate:
        case UnfrozenRate():
            return _leads(rate.inner)
        case DryingRate():
            rated_pa = rate.rated_pa
            return [(lambda c, rh: _saturation_pa(c) * (1.0 - rh) - rated_pa, np.inf)]
        case TableRate():
            coldest_c, coldest = rate.points[0][0], rate.rates[0][1]
            law = rate.law
            own = (lambda c, rh: rates_at(law, c, rh) - coldest, coldest_c)
            return [*_leads(law), own]
        case _:
            return []


def _sign_changes(
    lead: Lead, temperatures_c: Column, humidities: Column, below_c: float
) -> tuple[Places, Column]:
    """Return in which segments a lead changes its sign, and where on their way [1]."""
    cold_c, warm_c = _both(temperatures_c)
    dry, damp = _both(humidities)
    may = (lead(warm_c, dry) > 0.0) & ~(lead(cold_c, damp) > 0.0) & (cold_c < below_c)
    segments = may.nonzero()[0]
    start_c, step_c = temperatures_c[segments], np.diff(temperatures_c)[segments]
    start_rh, step_rh = humidities[segments], np.diff(humidities)[segments]
    ahead = lead(start_c + step_c * _LOOKS, start_rh + step_rh * _LOOKS)
    look, place = ((ahead[1:] > 0.0) != (ahead[:-1] > 0.0)).nonzero()
    start_c, step_c = start_c[place], step_c[place]
    start_rh, step_rh = start_rh[place], step_rh[place]
    bracket = _Bracket(
        _LOOKS[look, 0], _LOOKS[look + 1, 0], ahead[look, place], ahead[look + 1, place]
    )
    found = _find_zeros(
        lambda part: lead(start_c + step_c * part, start_rh + step_rh * part), bracket
    )
    return segments[place], found


class _Bracket(NamedTuple):
    """Two places each between which a lead changes its sign, and what it is there."""

    early: Column
    late: Column
    before: Column
    after: Column


def _find_zeros(lead: Callable[[Column], Column], bracket: _Bracket) -> Column:
    """Return where a lead changes its sign, by false positions (the Illinois rule)."""
    early, late, before, after = bracket
    part, was_late = late, np.zeros(len(late), dtype=int)
    found = np.zeros(len(late), dtype=bool)
    for _ in range(_TURNS if len(late) else 0):
        # What is found stays: how many others are looked for is of no account, to the last bit.
        last, part = part, np.where(found, part, late - after * ((late - early) / (after - before)))
        here = lead(part)
        is_late = np.where((here > 0.0) == (after > 0.0), 1, -1)
        # An end that stays twice counts half, or the other would creep.
        before = np.where(is_late < 0, here, np.where(was_late > 0, before / 2.0, before))
        after = np.where(is_late > 0, here, np.where(was_late < 0, after / 2.0, after))
        early, late = np.where(is_late < 0, part, early), np.where(is_late > 0, part, late)
        was_late = is_late
        found |= np.abs(part - last) <= _NARROW
        if found.all():
            break
    return part


def _both(values: Column) -> tuple[Column, Column]:
    """Return the lower and the higher value of each segment."""
    return np.minimum(values[:-1], values[1:]), np.maximum(values[:-1], values[1:])


def _one_by_one(rate: Rate, temperatures_c: Column, humidities: Column) -> Column:
    told = zip(temperatures_c.flat, humidities.flat, strict=True)
    found = [rate.at(temperature_c=float(c), humidity=float(rh)) for c, rh in told]
    return np.array(found).reshape(temperatures_c.shape)


def _unhindered(_rate: UnhinderedRate, temperatures_c: Column, _humidities: Column) -> Column:
    return np.ones_like(temperatures_c)


def _unfrozen(rate: UnfrozenRate, temperatures_c: Column, humidities: Column) -> Column:
    inner = rates_at(rate.inner, temperatures_c, humidities)
    return np.where(temperatures_c > FREEZING_C, inner, 0.0)


def _cut_off(rate: CementRate | ReactionRate, temperatures_c: Column, shares: Column) -> Column:
    """Return shares with nothing below the minimum, and no more than 1 from the rating on."""
    shares = np.where(temperatures_c >= rate.rated_c, 1.0, shares)
    return np.where(temperatures_c >= rate.minimum_c, shares, 0.0)


def _doubling(rated_c: float, doubling_k: float, temperatures_c: Column) -> Column:
    return np.exp2((temperatures_c - rated_c) / doubling_k)


def _reaction(rate: ReactionRate, temperatures_c: Column, _humidities: Column) -> Column:
    shares = _doubling(rate.rated_c, RESIN_DOUBLING_K, temperatures_c)
    return _cut_off(rate, temperatures_c, shares)


def _cement(rate: CementRate, temperatures_c: Column, _humidities: Column) -> Column:
    below_k = np.maximum(0.0, REFERENCE_C - temperatures_c)
    energy_j_mol = ENERGY_J_PER_MOL + ENERGY_J_PER_MOL_K * below_k
    inverse_per_k = 1.0 / (REFERENCE_C + ZERO_CELSIUS_K) - 1.0 / (temperatures_c + ZERO_CELSIUS_K)
    shares = np.exp(energy_j_mol / GAS_CONSTANT_J_PER_MOL_K * inverse_per_k) / rate.rated_rate
    if rate.doubling_k is not None:
        shares = np.minimum(shares, _doubling(rate.rated_c, rate.doubling_k, temperatures_c))
    return _cut_off(rate, temperatures_c, shares)


def _saturation_pa(temperatures_c: Column) -> Column:
    """Return the saturation pressure over water, at 0 °C where it is colder [Pa]."""
    absolute_k = np.maximum(temperatures_c, FREEZING_C) + ZERO_CELSIUS_K
    polynomial = C9 + absolute_k * (C10 + absolute_k * (C11 + absolute_k * C12))
    pressure: Column = np.exp(C8 / absolute_k + polynomial + C13 * np.log(absolute_k))
    return pressure


def _drying(rate: DryingRate, temperatures_c: Column, humidities: Column) -> Column:
    deficit_pa = _saturation_pa(temperatures_c) * (1.0 - humidities)
    counts = (temperatures_c >= max(rate.minimum_c, FREEZING_C)) & (humidities < rate.limit_rh)
    return np.where(counts, np.minimum(1.0, deficit_pa / rate.rated_pa), 0.0)


def _table(rate: TableRate, temperatures_c: Column, humidities: Column) -> Column:
    by_law = rates_at(rate.law, temperatures_c, humidities)
    rows_c, rows = np.array(rate.rates).T
    shares = np.interp(temperatures_c, rows_c, rows)
    shares = np.where(temperatures_c < rows_c[0], np.minimum(by_law, rows[0]), shares)
    return np.where(by_law == 0.0, 0.0, shares)


_COLUMNS: dict[type, Callable[..., Column]] = {
    CementRate: _cement,
    DryingRate: _drying,
    ReactionRate: _reaction,
    TableRate: _table,
    UnfrozenRate: _unfrozen,
    UnhinderedRate: _unhindered,
}
