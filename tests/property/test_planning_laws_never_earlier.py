"""Laws of the planner: what may only make a date later."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

from hypothesis import assume, given
from hypothesis import strategies as st
from planning_jobs import HOUR, Case, assert_never_earlier, cases, climates, heat, only, windows
from planning_samples import START, expected, job, layer, plan, sheet, wait, zone

from curecal.instants import Window
from curecal.planning.plan import State
from curecal.trade.data_sheets import (
    POURED,
    DataSheet,
    FixedWait,
    Hardening,
    Milestone,
    TableWait,
    ThicknessWait,
    Wait,
)
from curecal.trade.job import Expected, Layer
from curecal.trade.site_log import Entry, Inspection, Kept, Place, Reading, Result, Series

COLDER_K = st.floats(0.0, 8.0)


def _rated_wait_s(amount: object, thickness_m: float) -> float:
    """Return a wait at its rated conditions, reckoned here and not by the planner."""
    if isinstance(amount, FixedWait):
        return amount.wait_s
    if isinstance(amount, ThicknessWait):
        bands = [band_s for to_m, band_s in amount.bands if thickness_m <= to_m + 1e-9]
        return max([amount.at_least_s, amount.per_m_s * thickness_m, *bands[:1]])
    return 0.0


@given(case=cases())
def test_no_milestone_comes_before_its_wait_is_over(case: Case) -> None:
    for planned in only(case.plan()).layers:
        if planned.finish is None:
            continue
        sheet_waits = planned.layer.sheet.waits
        for milestone, dated in planned.milestones.items():
            if milestone not in sheet_waits or dated.window is None:
                continue
            if milestone is Milestone.HEAT and planned.layer.heat_before_covering:
                # Heated bare, it is gated by that, by its cooling down and by its test.
                continue
            wait_s = _rated_wait_s(sheet_waits[milestone].amount, planned.layer.thickness_m or 0.0)
            least = planned.finish.earliest + timedelta(seconds=wait_s)
            assert dated.window.earliest >= least, milestone


@given(case=cases())
def test_a_layer_waits_for_what_it_lies_on(case: Case) -> None:
    """Planned work never starts before the layers under it are finished and let it."""
    plans = only(case.plan()).layers
    for below, above in pairwise(plans):
        alike = below.layer.part == above.layer.part
        if not alike or above.layer.done_at is not None or above.start is None:
            continue
        assert below.finish is not None
        assert above.start.earliest >= below.finish.earliest
        cover = below.milestones.get(Milestone.COVER)
        if cover is not None and cover.window is not None:
            assert above.start.earliest >= cover.window.earliest


@given(case=cases(), colder_k=COLDER_K)
def test_a_colder_expectation_is_never_earlier(case: Case, colder_k: float) -> None:
    climate = case.job.expected
    colder = replace(
        climate,
        air_c=climate.air_c - colder_k,
        coldest_c=(climate.coldest_c or climate.air_c) - colder_k,
    )
    assert_never_earlier(case.plan(), case.in_climate(colder).plan())


@given(case=cases(), colder_k=COLDER_K)
def test_a_colder_worst_case_is_never_earlier(case: Case, colder_k: float) -> None:
    climate = case.job.expected
    colder = replace(climate, coldest_c=(climate.coldest_c or climate.air_c) - colder_k)
    before, after = case.plan(), case.in_climate(colder).plan()
    assert_never_earlier(before, after)


@given(case=cases(), damper=st.floats(0.0, 0.25))
def test_a_damper_expectation_is_never_earlier(case: Case, damper: float) -> None:
    climate = case.job.expected
    wetter = replace(
        climate,
        humidity=(climate.humidity or 0.5) + damper,
        dampest=min((climate.dampest or 0.5) + damper, 1.0),
    )
    assert_never_earlier(case.plan(), case.in_climate(wetter).plan())


def _colder_entry(entry: Entry, colder_k: float) -> Entry:
    if isinstance(entry, Reading):
        return replace(
            entry,
            temperature_c=None if entry.temperature_c is None else entry.temperature_c - colder_k,
            low_c=None if entry.low_c is None else entry.low_c - colder_k,
        )
    if isinstance(entry, Series):
        points = tuple(
            (at, None if value_c is None else value_c - colder_k, share)
            for at, value_c, share in entry.points
        )
        return replace(entry, points=points)
    assert isinstance(entry, Kept)
    return replace(entry, above_c=entry.above_c - colder_k)


@given(case=cases(), colder_k=COLDER_K)
def test_colder_readings_are_never_earlier(case: Case, colder_k: float) -> None:
    # All by the same: a warmer air over the same bed would say that the bed is colder than it.
    colder = replace(case, log=tuple(_colder_entry(entry, colder_k) for entry in case.log))
    assert_never_earlier(case.plan(), colder.plan())


@given(case=cases(), data=st.data(), colder_k=COLDER_K)
def test_one_colder_reading_is_never_earlier(
    case: Case, data: st.DataObject, colder_k: float
) -> None:
    assume(case.log)
    index = data.draw(st.integers(0, len(case.log) - 1))
    log = list(case.log)
    log[index] = _colder_entry(log[index], colder_k)
    assert_never_earlier(case.plan(), replace(case, log=tuple(log)).plan())


@given(case=cases(), damper=st.floats(0.0, 0.4))
def test_damper_readings_are_never_earlier(case: Case, damper: float) -> None:
    def wetter(entry: Entry) -> Entry:
        if isinstance(entry, Reading) and entry.humidity is not None:
            return replace(entry, humidity=min(entry.humidity + damper, 1.0))
        if isinstance(entry, Series):
            points = tuple(
                (at, value_c, None if share is None else min(share + damper, 1.0))
                for at, value_c, share in entry.points
            )
            return replace(entry, points=points)
        return entry

    log = tuple(wetter(entry) for entry in case.log)
    assert_never_earlier(case.plan(), replace(case, log=log).plan())


@given(case=cases(), data=st.data(), thicker_mm=st.integers(0, 40))
def test_a_thicker_layer_is_never_earlier(case: Case, data: st.DataObject, thicker_mm: int) -> None:
    index = data.draw(st.integers(0, len(case.layers) - 1))
    layers = list(case.layers)
    thickness_m = (layers[index].thickness_m or 0.0) + thicker_mm / 1000.0
    layers[index] = replace(layers[index], thickness_m=thickness_m)
    assert_never_earlier(case.plan(), case.with_layers(layers).plan())


@given(case=cases(), data=st.data(), later_h=st.integers(0, 400))
def test_a_layer_done_later_is_never_earlier(case: Case, data: st.DataObject, later_h: int) -> None:
    # Without readings: what the site did to a layer depends on when it was there.
    done = [index for index, each in enumerate(case.layers) if each.done_at]
    assume(done)
    quiet = replace(case, log=())
    index = data.draw(st.sampled_from(done))
    layers = list(quiet.layers)
    at = layers[index].done_at
    assert at is not None
    layers[index] = replace(layers[index], done_at=min(at + later_h * HOUR, quiet.as_of))
    after = quiet.with_layers(layers)
    assume(_in_order(after))
    before = quiet.plan()
    # A base covered wet leaves no date until a person decides; covered later it may be dry.
    wet = any(finding.code == "covered-wet" for finding in before.findings)
    undecided = frozenset({("hall", "energize")}) if wet else frozenset[tuple[str, str]]()
    assert_never_earlier(before, after.plan(), but_for=undecided)


def _in_order(case: Case) -> bool:
    done = [each.done_at for each in case.layers if each.done_at]
    return done == sorted(done)


@given(case=cases(parts=False), data=st.data(), later_h=st.integers(1, 200))
def test_one_more_pour_is_never_earlier(case: Case, data: st.DataObject, later_h: int) -> None:
    pours = [index for index, each in enumerate(case.layers) if each.sheet.kind in POURED]
    assume(pours)
    quiet = replace(case, log=())
    index = data.draw(st.sampled_from(pours))
    first = quiet.layers[index]
    second = replace(
        first,
        id="second-pour",
        name="second pour",
        done_at=None if first.done_at is None else first.done_at + later_h * HOUR,
    )
    layers = [*quiet.layers[: index + 1], second, *quiet.layers[index + 1 :]]
    more = quiet.with_layers(layers)
    assume(second.done_at is None or second.done_at <= quiet.as_of)
    assume(_in_order(more))
    before, after = windows(quiet.plan()), windows(more.plan())
    zone_id = quiet.job.zones[0].id
    _never_before(before[zone_id, "energize"], after[zone_id, "energize"])


_TOPS = ["membrane", "thinset", "cement grout", "sealer", "leveler", "rapid leveler", "concrete"]


@given(case=cases(), top=st.sampled_from(_TOPS), heat_d=st.sampled_from([None, 1.0]))
def test_one_more_layer_on_top_is_never_earlier(case: Case, top: str, heat_d: float | None) -> None:
    made = sheet(top) if heat_d is None else sheet(top, heat_d=heat_d)
    more = case.with_layers([*case.layers, layer(made, None, "one more", thickness_m=0.005)])
    zone_id = case.job.zones[0].id
    before, after = windows(case.plan()), windows(more.plan())
    _never_before(before[zone_id, "energize"], after[zone_id, "energize"])


@given(case=cases(), film=st.sampled_from(["primer", "sealer"]), data=st.data())
def test_one_more_film_anywhere_is_never_earlier(
    case: Case, film: str, data: st.DataObject
) -> None:
    index = data.draw(st.integers(0, len(case.layers)))
    above = case.layers[index] if index < len(case.layers) else None
    # What lies on it is done, so it is; else it is still to come.
    done_at = None if above is None else above.done_at
    coat = layer(film, done_at, "one more film")
    more = case.with_layers([*case.layers[:index], coat, *case.layers[index:]])
    zone_id = case.job.zones[0].id
    before, after = windows(case.plan()), windows(more.plan())
    _never_before(before[zone_id, "energize"], after[zone_id, "energize"])


def _never_before(old: Window | None, new: Window | None) -> None:
    if new is None:
        return
    assert old is not None
    assert new.earliest >= old.earliest
    assert new.latest is None or (old.latest is not None and new.latest >= old.latest)


@given(climate=climates(), later_h=st.integers(0, 500), first_mm=st.integers(2, 12))
def test_a_later_second_pour_is_never_earlier(
    climate: Expected, later_h: int, first_mm: int
) -> None:
    def poured(hours: int) -> Layer:
        return layer("leveler", START + hours * HOUR, "second", thickness_m=0.004)

    first = layer("leveler", START, "first", thickness_m=first_mm / 1000.0)
    bed = layer("thinset")
    as_of = START + 700 * HOUR
    soon = plan(job(zone(first, poured(48), bed), climate=climate), as_of=as_of)
    late = plan(job(zone(first, poured(48 + later_h), bed), climate=climate), as_of=as_of)
    assert_never_earlier(soon, late)


def _hotter(made: DataSheet, warmer_k: float) -> DataSheet:
    def rated(each: Wait) -> Wait:
        if isinstance(each.amount, TableWait):
            return each
        return replace(each, rated_c=each.rated_c + warmer_k)

    return replace(
        made,
        rated_c=made.rated_c + warmer_k,
        waits={name: rated(each) for name, each in made.waits.items()},
        covers={name: rated(each) for name, each in made.covers.items()},
        bare_heat=None if made.bare_heat is None else rated(made.bare_heat),
    )


@given(case=cases(), data=st.data(), warmer_k=st.floats(0.0, 10.0))
def test_a_higher_rating_is_never_earlier(case: Case, data: st.DataObject, warmer_k: float) -> None:
    index = data.draw(st.integers(0, len(case.layers) - 1))
    layers = list(case.layers)
    layers[index] = replace(layers[index], sheet=_hotter(layers[index].sheet, warmer_k))
    assert_never_earlier(case.plan(), case.with_layers(layers).plan())


@given(case=cases(), step_k=st.sampled_from([5.0, 8.0, 10.0]))
def test_a_doubling_step_is_never_earlier(case: Case, step_k: float) -> None:
    def doubled(each: Layer) -> Layer:
        # A sheet that has a step keeps it: a wider one may well be faster.
        return replace(each, sheet=replace(each.sheet, doubling_k=each.sheet.doubling_k or step_k))

    assert_never_earlier(case.plan(), case.each_layer(doubled).plan())


@given(case=cases(), days=st.floats(0.1, 200.0))
def test_what_may_be_walked_on_never_touches_heat(case: Case, days: float) -> None:
    """Nor any start, finish or other milestone; only frost asks a drying layer for its last."""
    thawed = replace(case, log=tuple(_colder_entry(entry, -6.0) for entry in case.log))

    def walked(each: Layer) -> Layer:
        walk = {Milestone.WALK: wait(days, each.sheet)}
        return replace(each, sheet=replace(each.sheet, waits={**each.sheet.waits, **walk}))

    before = {name: at for name, at in windows(thawed.plan()).items() if name[1] != "walk"}
    after = windows(thawed.each_layer(walked).plan())
    assert before == {name: at for name, at in after.items() if name[1] != "walk"}


@given(
    material=st.sampled_from(["membrane", "primer", "sealer", "calcium-sulfate screed"]),
    over=st.floats(0.0, 0.14),
    air_c=st.floats(12.0, 30.0),
)
def test_air_at_the_limit_dries_nothing(material: str, over: float, air_c: float) -> None:
    made = sheet(material)
    humidity = min(made.drying_limit_rh + over, 1.0)
    climate = expected(air_c, humidity=humidity, dampest=humidity)
    wet = layer(made, START, thickness_m=0.005)
    dated = plan(job(zone(wet, layer("thinset")), climate=climate)).zones[0].layers[0]
    drying = [
        one
        for milestone, one in dated.milestones.items()
        if milestone in {Milestone.COVER, Milestone.WET}
    ]
    assert drying
    for one in drying:
        assert one.window is None
        assert one.blocked is not None
        assert one.blocked.code == "too-damp"


@given(case=cases())
def test_the_days_told_stand_in_order(case: Case) -> None:
    """Owner's day, latest, earliest, and every single layer's own date."""
    made = case.plan()
    energize = only(made).energize
    if energize.window is None:
        assert only(made).state in {State.NO_DATE, State.STOPPED}
        assert energize.start_on is None
        assert energize.owner_date is None
        return
    for index, planned in enumerate(only(made).layers):
        if Milestone.HEAT in planned.milestones:
            own = heat(made, index)
            assert own is not None
            assert energize.window.earliest >= own.earliest
    assert energize.start_on is not None
    assert energize.start_on >= energize.window.earliest.date()
    if energize.window.latest is None:
        assert energize.owner_date is None
    else:
        assert energize.window.latest >= energize.window.earliest
        assert energize.owner_date is not None
        assert energize.owner_date >= energize.start_on
        morning = made.job.work.start
        assert (energize.owner_date, morning) >= (
            energize.window.latest.date(),
            min(morning, energize.window.latest.time()),
        )


def test_frost_and_a_look_at_it_restart_the_clock() -> None:
    """A case by hand that the strategies meet rarely: frost, thaw, sound, and never earlier."""
    made = layer("thinset", START)
    frozen = [
        Reading(
            id=f"f{index}",
            at=START + index * 12 * HOUR,
            recorded=START + index * 12 * HOUR,
            place=Place.SURFACE,
            temperature_c=value_c,
        )
        for index, value_c in enumerate([12.0, -2.0, 12.0, 12.0])
    ]
    look = Inspection(
        id="look",
        at=START + 30 * HOUR,
        recorded=START + 30 * HOUR,
        layer=made.id,
        result=Result.SOUND,
        by="Ada",
    )
    as_of = START + 48 * HOUR
    stopped = plan(job(zone(made)), frozen, as_of)
    restarted = plan(job(zone(made)), [*frozen, look], as_of)
    untouched = plan(job(zone(made)), [], as_of)
    assert heat(stopped) is None
    assert made.sheet.hardens_by is Hardening.CEMENT
    assert_never_earlier(untouched, restarted)
    again = heat(restarted)
    assert again is not None
    assert again.earliest >= START + 24 * HOUR + timedelta(days=28)
