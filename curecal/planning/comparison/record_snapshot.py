"""What a plan's record holds beside its dates: the heating, and a sheet's final cure."""

from __future__ import annotations

from curecal.planning.hold_points.cable_laying import heated_area
from curecal.records import Record, record
from curecal.trade.data_sheets import FixedWait, Wait
from curecal.trade.job import NOT_DESCRIBED, Heating, Laying


@record
class CableSnapshot(Record):
    """One cable: its label, and how it lies."""

    name: str
    serial: str | None = None
    voltage_v: float | None = None
    power_w: float | None = None
    resistance_ohm: float | None = None
    laying: Laying = NOT_DESCRIBED


@record
class HeatingSnapshot(Record):
    """What heats a zone, for the record."""

    kind: str
    circuit: str | None = None
    supply_v: float | None = None
    breaker_a: float | None = None
    protection: str | None = None
    protection_source: str | None = None
    heated_area_m2: float | None = None
    cables: tuple[CableSnapshot, ...] = ()


@record
class FinalCure(Record):
    """A sheet's final cure at its rated temperature: shown, and never a wait before heat."""

    wait_s: float
    rated_c: float
    source: str


def heating_snapshot(heating: Heating) -> HeatingSnapshot:
    """Return what heats a zone as facts alone.

    Rule: R25a.

    Args:
        heating: the heating.

    Returns:
        Its circuit, and each cable's label and how it lies.
    """
    return HeatingSnapshot(
        kind=heating.kind.value,
        circuit=heating.circuit,
        supply_v=heating.supply_v,
        breaker_a=heating.breaker_a,
        protection=heating.protection,
        protection_source=heating.protection_source,
        heated_area_m2=heated_area(heating),
        cables=tuple(
            CableSnapshot(
                cable.name,
                cable.serial,
                cable.voltage_v,
                cable.power_w,
                cable.resistance_ohm,
                cable.laying,
            )
            for cable in heating.cables
        ),
    )


def final_cure_snapshot(wait: Wait | None) -> FinalCure | None:
    """Return a sheet's final cure as facts alone.

    Rule: R10.

    Args:
        wait: the final cure, if the sheet states one.

    Returns:
        Its time and source; None where no one time is stated.
    """
    if wait is None or not isinstance(wait.amount, FixedWait):
        return None
    return FinalCure(wait.amount.wait_s, wait.rated_c, wait.source.text)
