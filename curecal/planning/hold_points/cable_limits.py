"""What a cable's readings prove: against label, to earth, insulation, sensor, and each other."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime
from itertools import pairwise

from curecal.errors import OutsideValidity
from curecal.planning.plan import HoldState
from curecal.planning.tolerances import HAIR, HAIR_K
from curecal.records import Record, record
from curecal.science.electrical import resistance_deviation, resistance_from_power
from curecal.science.thermistor import (
    SteinhartHart,
    temperature_from_table,
    temperature_steinhart_hart,
)
from curecal.trade.findings import Message
from curecal.trade.job import Cable, Thermistor
from curecal.trade.rules import Rules
from curecal.trade.site_log import OPEN_OHM, Resistance, Stage

# The insulation tester's word is wanted where the cable can no longer be seen.
INSULATION_STAGES = frozenset({Stage.EMBEDDED, Stage.CONNECTION, Stage.IN_SERVICE})
_WORD_CABLE = re.compile(r"^cable\s+(?=\S)", re.IGNORECASE)


@record
class Judged(Record):
    """What one entry proves, and why."""

    state: HoldState
    reason: Message
    electrical_fault: bool = False


def label_resistance(cable: Cable) -> float | None:
    """Return what a cable's label says of its resistance, given or from voltage and power [Ω].

    Rule: R25.

    Args:
        cable: the cable.

    Returns:
        Resistance [Ω], or None where the label says nothing.
    """
    if cable.resistance_ohm is not None:
        return cable.resistance_ohm
    if cable.voltage_v and cable.power_w:
        return resistance_from_power(voltage_v=cable.voltage_v, power_w=cable.power_w)
    return None


def called(cable: Cable) -> str:
    """Return a cable's name behind the word cable, which it need not say again.

    Rule: R25.

    Args:
        cable: the cable.

    Returns:
        "B" for "cable B"; empty for one without a name.
    """
    return _WORD_CABLE.sub("", cable.name)


def judge(
    cable: Cable, entry: Resistance, rules: Rules, *, embedded_at: datetime | None = None
) -> Judged:
    """Return what one set of readings proves of one cable.

    Fails: conductor out of tolerance, to earth or insulation under the product's threshold.
    Another finite reading to earth proves nothing until the insulation tester has decided.
    What is missing never hides what failed: the worst of all readings decides.

    Rule: R25.

    Args:
        cable: the cable.
        entry: the readings.
        rules: the numbers of the rules.
        embedded_at: since when the cable can no longer be seen, if it cannot.

    Returns:
        The state it gives its hold point, with the reason.
    """
    parts = (_conductor, _insulation_low, _earth_finite, _undecided, _sensor)
    found = [said for part in parts if (said := part(cable, entry, rules)) is not None]
    # Whatever the stage is called: in the floor a multimeter alone proves nothing.
    embedded = embedded_at is not None and entry.at > embedded_at
    if (embedded or entry.stage in INSULATION_STAGES) and entry.insulation_ohm is None:
        found.append(_incomplete(cable, entry, "insulation"))
    params = {"cable": called(cable), "read_ohm": entry.conductor_ohm, "tested_at": entry.at}
    passed = Judged(HoldState.MET, Message("test-passed", params))
    return min(found, key=mildness, default=passed)


def mildness(judged: Judged) -> int:
    """Return the rank of a verdict: an electrical fault before other failures, then gaps.

    Rule: R25.

    Args:
        judged: what readings prove.

    Returns:
        A number; the worst is the least.
    """
    if judged.electrical_fault:
        return 0
    return (HoldState.FAILED, HoldState.UNMET, HoldState.MET).index(judged.state) + 1


def _conductor(cable: Cable, entry: Resistance, _rules: Rules) -> Judged | None:
    if entry.conductor_ohm is None:
        return _incomplete(cable, entry, "conductor")
    rated_ohm = label_resistance(cable)
    if rated_ohm is None:
        return _incomplete(cable, entry, "label")
    if is_within(cable, read_ohm=entry.conductor_ohm, rated_ohm=rated_ohm):
        return None
    if entry.conductor_ohm >= OPEN_OHM:
        broken = {"cable": called(cable), "tested_at": entry.at}
        return Judged(HoldState.FAILED, Message("conductor-open", broken), electrical_fault=True)
    params = {
        "cable": called(cable),
        "read_ohm": entry.conductor_ohm,
        "rated_ohm": rated_ohm,
        "least_ohm": rated_ohm * (1.0 - cable.below_fraction),
        "most_ohm": rated_ohm * (1.0 + cable.above_fraction),
        "tested_at": entry.at,
    }
    return Judged(HoldState.FAILED, Message("conductor-out", params), electrical_fault=True)


def is_within(cable: Cable, *, read_ohm: float, rated_ohm: float) -> bool:
    """Return whether a conductor is inside its label's tolerance; a broken or shorted one never.

    Rule: R25.

    Args:
        cable: the cable, with its tolerance.
        read_ohm: what was read [Ω].
        rated_ohm: what the label says [Ω].

    Returns:
        True inside, or at its very edge.
    """
    try:
        off = resistance_deviation(measured_ohm=read_ohm, rated_ohm=rated_ohm)
    except OutsideValidity:
        return False
    return is_deviation_within(cable, off)


def is_deviation_within(cable: Cable, off_ratio: float) -> bool:
    """Return whether a resistance is off by no more than a cable's tolerance.

    Rule: R25.

    Args:
        cable: the cable, with its tolerance.
        off_ratio: how far it is off, as a share of what it should be [1].

    Returns:
        True inside, or at its very edge.
    """
    return -cable.below_fraction - HAIR <= off_ratio <= cable.above_fraction + HAIR


def is_insulation_low(cable: Cable, entry: Resistance) -> bool:
    """Return whether the insulation tester found a fault; "more than" less than enough is none.

    Rule: R25.

    Args:
        cable: the cable.
        entry: the readings.

    Returns:
        True for a figure under the product's threshold.
    """
    read_ohm = entry.insulation_ohm
    return (
        read_ohm is not None
        and not read_ohm >= cable.insulation_ohm
        and not entry.insulation_at_least
    )


def shows_insulated(cable: Cable, entry: Resistance) -> bool:
    """Return whether the insulation tester found a whole cable whole.

    Rule: R25.

    Args:
        cable: the cable.
        entry: the readings.

    Returns:
        True for a passing figure at its test voltage, of a cable that is not broken.
    """
    whole = (entry.conductor_ohm or OPEN_OHM) < OPEN_OHM
    enough = (entry.insulation_ohm or 0.0) >= cable.insulation_ohm
    return whole and enough and (entry.insulation_at_v or 0.0) >= cable.insulation_at_v


def _insulation_low(cable: Cable, entry: Resistance, _rules: Rules) -> Judged | None:
    if not is_insulation_low(cable, entry):
        return None
    params = {
        "cable": called(cable),
        "limit_ohm": cable.insulation_ohm,
        "read_ohm": entry.insulation_ohm,
        "tested_at": entry.at,
    }
    return Judged(HoldState.FAILED, Message("insulation-low", params), electrical_fault=True)


def _earth_finite(cable: Cable, entry: Resistance, rules: Rules) -> Judged | None:
    limit_ohm = _earth_limit(cable, rules)
    read_ohm = None if entry.to_earth_at_least else entry.to_earth_ohm
    if read_ohm is None or read_ohm >= limit_ohm:
        return None
    params = {
        "cable": called(cable),
        "limit_ohm": limit_ohm,
        "read_ohm": read_ohm,
        "tested_at": entry.at,
    }
    return Judged(HoldState.FAILED, Message("earth-finite", params), electrical_fault=True)


def _earth_limit(cable: Cable, rules: Rules) -> float:
    return max(cable.insulation_ohm, rules.electrical.earth_ohm)


def _undecided(cable: Cable, entry: Resistance, rules: Rules) -> Judged | None:
    """Return what is still missing for the insulation to be proven."""
    if entry.insulation_ohm is not None:
        if entry.insulation_at_least and not entry.insulation_ohm >= cable.insulation_ohm:
            beyond = {
                "cable": called(cable),
                "read_ohm": entry.insulation_ohm,
                "limit_ohm": cable.insulation_ohm,
                "tested_at": entry.at,
            }
            return Judged(HoldState.UNMET, Message("insulation-undecided", beyond))
        if entry.insulation_at_v is not None and entry.insulation_at_v >= cable.insulation_at_v:
            return None
        volts = {"cable": called(cable), "wanted_v": cable.insulation_at_v, "tested_at": entry.at}
        return Judged(HoldState.UNMET, Message("insulation-voltage", volts))
    read_ohm = entry.to_earth_ohm
    # "More than" the threshold is an open line; more than less than that says nothing.
    is_open = entry.to_earth_at_least and (read_ohm or 0.0) >= _earth_limit(cable, rules)
    if read_ohm is not None and not is_open:
        params = {"cable": called(cable), "read_ohm": read_ohm, "tested_at": entry.at}
        return Judged(HoldState.UNMET, Message("earth-undecided", params))
    if not entry.earth_open and entry.to_earth_ohm is None:
        return _incomplete(cable, entry, "to_earth")
    return None


def _sensor(cable: Cable, entry: Resistance, rules: Rules) -> Judged | None:
    if cable.sensor is None:
        return None
    if entry.sensor_ohm is None:
        return _incomplete(cable, entry, "sensor") if entry.stage is Stage.CONNECTION else None
    params = {"cable": called(cable), "read_ohm": entry.sensor_ohm, "tested_at": entry.at}
    try:
        sensed_c = sensor_temperature(cable.sensor, entry.sensor_ohm)
    except OutsideValidity:
        return Judged(HoldState.FAILED, Message("sensor-absurd", params))
    if entry.floor_c is None:
        return _incomplete(cable, entry, "floor")
    apart_k = abs(sensed_c - entry.floor_c)
    if apart_k <= rules.electrical.sensor_k + HAIR_K:
        return None
    more = {"sensed_c": sensed_c, "floor_c": entry.floor_c, "apart_k": apart_k}
    return Judged(HoldState.FAILED, Message("sensor-off", {**params, **more}))


def sensor_temperature(sensor: Thermistor, read_ohm: float) -> float:
    """Return the temperature a sensor's resistance means [°C].

    Rule: R25.

    Args:
        sensor: the sensor, by coefficients or by table.
        read_ohm: its resistance [Ω].

    Returns:
        Temperature [°C].

    Raises:
        OutsideValidity: no floor has the temperature that resistance would mean.
    """
    if sensor.coefficients is not None:
        return temperature_steinhart_hart(read_ohm, SteinhartHart(*sensor.coefficients))
    return temperature_from_table(read_ohm, sensor.table)


def _incomplete(cable: Cable, entry: Resistance, missing: str) -> Judged:
    params = {"cable": called(cable), "missing": missing, "tested_at": entry.at}
    return Judged(HoldState.UNMET, Message("test-incomplete", params))


def steps_between(
    entries: Sequence[Resistance], rules: Rules
) -> list[tuple[Resistance, Resistance]]:
    """Return the tests between which a cable's resistance jumped, even inside tolerance.

    Rule: R25.

    Args:
        entries: a cable's tests in order of time.
        rules: the numbers of the rules.

    Returns:
        The test before and the test after, of each jump over the threshold.
    """
    found = []
    # A line without an end is a fault of its own, not a step.
    read = [
        entry
        for entry in entries
        if entry.conductor_ohm is not None and entry.conductor_ohm < OPEN_OHM
    ]
    for before, after in pairwise(read):
        before_ohm, after_ohm = before.conductor_ohm or 0.0, after.conductor_ohm or 0.0
        change_ohm = abs(after_ohm - before_ohm)
        if change_ohm > rules.electrical.step_ohm and (
            change_ohm > before_ohm * rules.electrical.step_fraction > 0.0
        ):
            found.append((before, after))
    return found
