"""The record's part about the heating: circuit, cables against their labels, laying, tests."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from curecal.errors import OutsideValidity
from curecal.papers.blocks import (
    Block,
    Fact,
    FactList,
    PaperContext,
    PaperTable,
    Presence,
    Row,
    Section,
)
from curecal.planning.hold_points.cable_laying import heated_area
from curecal.planning.hold_points.cable_limits import called, label_resistance
from curecal.planning.plan import Hold, HoldState, ZonePlan
from curecal.science.electrical import current, resistance_deviation, resistance_from_power
from curecal.trade.hold_codes import HoldCode
from curecal.trade.job import Cable, HeatingKind
from curecal.trade.site_log import OPEN_OHM, NotTested, Resistance, Stage
from curecal.words.sentences import Words
from curecal.words.values import clean, with_decimal_sign

_HOLDS = {
    Stage.DELIVERY: HoldCode.TEST_ON_DELIVERY,
    Stage.LAID: HoldCode.TEST_AFTER_LAYING,
    Stage.EMBEDDED: HoldCode.TEST_AFTER_EMBEDDING,
    Stage.CONNECTION: HoldCode.TEST_BEFORE_CONNECTION,
    Stage.IN_SERVICE: HoldCode.TEST_AFTER_CHISELLING,
}
_COLUMNS = (
    ("test", 1.45),
    ("when", 1.7),
    ("conductor", 1.35),
    ("to-earth", 0.75),
    ("insulation", 1.35),
    ("sensor", 1.0),
    ("result", 0.75),
)


def heating_section(ctx: PaperContext, zone: ZonePlan) -> Section:
    """Return what the record holds of a zone's heating."""
    heating = zone.zone.heating
    blocks: list[Block] = [FactList(tuple(_circuit(ctx, zone)))]
    if heating.kind is HeatingKind.ELECTRIC:
        for cable in heating.cables or (Cable(""),):
            blocks.append(FactList(tuple(_cable(ctx, zone, cable))))
            blocks.append(_tests(ctx, zone, cable))
    title = "water" if heating.kind is HeatingKind.WATER else "heating"
    return Section(ctx.text(f"section.{title}"), tuple(blocks))


def _circuit(ctx: PaperContext, zone: ZonePlan) -> Iterator[Fact]:
    heating = zone.zone.heating
    area_m2 = heated_area(heating)
    powers = [cable.power_w for cable in heating.cables if cable.power_w]
    whole = powers and len(powers) == len(heating.cables)
    density = None
    if whole and area_m2:
        density = ctx.text("density", density_ratio=sum(powers) / area_m2)
    yield ctx.fact("floor-area", ctx.shown("floor_m2", zone.zone.floor_area_m2))
    yield ctx.fact("floor-limit", ctx.shown("limit_c", heating.floor_limit_c))
    yield ctx.fact("manual", clean(heating.source.text) if heating.source else None)
    if heating.kind is HeatingKind.WATER:
        return
    yield ctx.fact("circuit", ctx.shown("circuit", heating.circuit))
    yield ctx.fact("supply", ctx.shown("supply_v", heating.supply_v))
    yield ctx.fact("supply-measured", None)
    yield ctx.fact("breaker", ctx.shown("breaker_a", heating.breaker_a))
    yield ctx.fact("protection", ctx.shown("protection", heating.protection))
    yield ctx.fact("heated-area", ctx.shown("area_m2", area_m2))
    yield ctx.fact("density", density)
    yield ctx.fact("thermostat", None)
    yield ctx.fact("splice", None)


def _cable(ctx: PaperContext, zone: ZonePlan, cable: Cable) -> Iterator[Fact]:
    laying = cable.laying
    rated_ohm = label_resistance(cable)
    needed = rated_ohm is None and any(
        hold.is_outstanding and hold.code in set(_HOLDS.values()) for hold in zone.holds
    )
    if cable.name:
        yield ctx.fact("cable", clean(called(cable)))
    yield ctx.fact("serial", ctx.shown("serial", cable.serial))
    yield ctx.fact("label", _label(ctx, cable), needed=needed)
    yield ctx.fact("expected", _expected(ctx, cable))
    yield ctx.fact("allowed", _allowed(ctx, cable, rated_ohm))
    yield ctx.fact(
        "insulation",
        ctx.text(
            "insulation-limit",
            insulation_ohm=cable.insulation_ohm,
            test_v=cable.insulation_at_v,
        ),
    )
    yield ctx.fact("spacing", ctx.shown("spacing_m", laying.spacing_m))
    yield ctx.fact("strapping", ctx.shown("strapping_m", laying.strapping_m))
    yield ctx.fact("walls", ctx.shown("walls_m", laying.clearance_walls_m))
    yield ctx.fact("drains", ctx.shown("drains_m", laying.clearance_drains_m))
    yield ctx.fact("sensor", clean(cable.sensor.name) if cable.sensor else None)
    yield ctx.fact("sensor-place", ctx.shown("sensor_place", laying.sensor_place))


def _label(ctx: PaperContext, cable: Cable) -> str | None:
    parts = (
        ctx.shown("rated_v", cable.voltage_v),
        ctx.shown("rated_w", cable.power_w),
        ctx.shown("rated_ohm", cable.resistance_ohm),
    )
    return ", ".join(part for part in parts if part) or None


def _expected(ctx: PaperContext, cable: Cable) -> str | None:
    """Return what voltage and power on the label make of resistance and current."""
    if not cable.voltage_v or not cable.power_w:
        return None
    return ctx.text(
        "expected",
        expected_ohm=resistance_from_power(voltage_v=cable.voltage_v, power_w=cable.power_w),
        expected_a=current(power_w=cable.power_w, voltage_v=cable.voltage_v),
    )


def _allowed(ctx: PaperContext, cable: Cable, rated_ohm: float | None) -> str | None:
    if rated_ohm is None:
        return None
    return ctx.text(
        "allowed",
        least_ohm=rated_ohm * (1.0 - cable.below_fraction),
        most_ohm=rated_ohm * (1.0 + cable.above_fraction),
        below_fraction=cable.below_fraction,
        above_fraction=cable.above_fraction,
    )


def _tests(ctx: PaperContext, zone: ZonePlan, cable: Cable) -> PaperTable:
    rows = [row for stage in Stage for row in _stage(ctx, zone, cable, stage)]
    title = ctx.text("tests-of", cable=called(cable)) if cable.name else ctx.text("tests")
    return ctx.table(_COLUMNS, rows, title)


def _stage(ctx: PaperContext, zone: ZonePlan, cable: Cable, stage: Stage) -> Iterator[Row]:
    """Yield every test of a stage; what is not there is missing where a hold point wants it."""
    entries = [
        entry
        for entry in ctx.facts.of(Resistance, zone.zone)
        if entry.stage is stage and _is_of(ctx, zone, cable, entry)
    ]
    hold = _hold(zone, cable, _HOLDS[stage])
    what = ctx.text(f"stage.{stage.value.replace(' ', '-')}")
    for entry in entries:
        yield _test(ctx, cable, entry, what, hold)
    missed = [
        entry
        for entry in ctx.facts.of(NotTested, zone.zone)
        if entry.stage is stage and entry.cable in {None, cable.name}
    ]
    for miss in missed:
        says = ctx.text("not-tested", at=ctx.at(miss.at), who=ctx.who(miss))
        yield Row((what, *[""] * (len(_COLUMNS) - 1)), says)
    if entries or missed or hold is None:
        return
    if hold.state is HoldState.NOT_NEEDED:
        yield Row((what, ctx.words.hold_state(hold.state), *[""] * (len(_COLUMNS) - 2)))
    elif hold.state is HoldState.MET:
        yield ctx.unrecorded(len(_COLUMNS), what, Presence.NOT_RECORDED)
    else:
        yield ctx.unrecorded(len(_COLUMNS), what, Presence.MISSING)


def _is_of(ctx: PaperContext, zone: ZonePlan, cable: Cable, entry: Resistance) -> bool:
    """Return whether readings are shown with a cable: also those that name none of several."""
    if entry.cable is not None:
        return entry.cable == cable.name
    return entry.zone is not None or len(ctx.plan.zones) == 1 or not zone.zone.heating.cables


def _hold(zone: ZonePlan, cable: Cable, code: HoldCode) -> Hold | None:
    found = [hold for hold in zone.holds if hold.code is code]
    own = [hold for hold in found if hold.cable == cable.name]
    return next(iter(own or found), None)


def _test(ctx: PaperContext, cable: Cable, entry: Resistance, what: str, hold: Hold | None) -> Row:
    decides = hold is not None and hold.evidence == entry.id
    below = ctx.text(
        "tested-by",
        who=ctx.who(entry),
        meter=entry.meter,
        photo=entry.photo,
        note=entry.note,
        reason=ctx.words.sentence(hold.reason)
        if decides and hold is not None and hold.reason and hold.is_outstanding
        else None,
    )
    cells = (
        what,
        ctx.at(entry.at),
        _conductor(ctx, cable, entry),
        _earth(ctx, entry),
        _insulation(ctx, entry),
        _sensor(ctx, entry),
        ctx.words.hold_state(hold.state) if decides and hold is not None else "",
    )
    return Row(cells, below)


def _conductor(ctx: PaperContext, cable: Cable, entry: Resistance) -> str:
    """Return what a conductor read, and how far that is from its label."""
    if entry.conductor_ohm is None:
        return ctx.text("told.not-recorded")
    if entry.conductor_ohm >= OPEN_OHM:
        return ctx.text("open")
    return ctx.text(
        "read",
        read_ohm=entry.conductor_ohm,
        off=_off(entry.conductor_ohm, label_resistance(cable), ctx.words),
    )


def _off(read_ohm: float, rated_ohm: float | None, words: Words) -> str | None:
    if rated_ohm is None:
        return None
    try:
        off = resistance_deviation(measured_ohm=read_ohm, rated_ohm=rated_ohm)
    except OutsideValidity:
        return None
    return with_decimal_sign(f"{100.0 * off:+.1f} %", words.catalogue)


def _earth(ctx: PaperContext, entry: Resistance) -> str:
    if entry.earth_open:
        return ctx.text("open")
    return _at_least(ctx, entry.to_earth_ohm, is_least=entry.to_earth_at_least)


def _insulation(ctx: PaperContext, entry: Resistance) -> str:
    said = _at_least(ctx, entry.insulation_ohm, is_least=entry.insulation_at_least)
    if entry.insulation_ohm is None or entry.insulation_at_v is None:
        return said
    return ctx.text("tested-at", read=said, test_v=entry.insulation_at_v)


def _at_least(ctx: PaperContext, read_ohm: float | None, *, is_least: bool) -> str:
    if read_ohm is None:
        return ""
    return ctx.text("above" if is_least else "read", read_ohm=read_ohm, off=None)


def _sensor(ctx: PaperContext, entry: Resistance) -> str:
    parts: Sequence[str | None] = (
        ctx.text("open")
        if entry.sensor_ohm is not None and entry.sensor_ohm >= OPEN_OHM
        else ctx.shown("sensor_ohm", entry.sensor_ohm),
        ctx.shown("floor_c", entry.floor_c),
    )
    return ", ".join(part for part in parts if part)
