"""Laws of the planner: what one more reading, or a colder one, may do to a date."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from hypothesis import assume, given, settings
from hypothesis import strategies as st
from planning_jobs import HOUR, Case, assert_never_earlier, cases, climates, logger, windows
from planning_samples import DAY, RULES, START, expected, job, layer, reading, sheet, zone

from curecal.planning.climate.under_air import compute_bed_offset
from curecal.planning.plan import Plan
from curecal.trade.findings import Severity
from curecal.trade.job import Below, HeatedBy
from curecal.trade.site_log import Entry, Kept, Place, Reading, Series

SECONDS = timedelta(seconds=2)
COLDEST_C = 13.0
QUIET = timedelta(hours=27)
"""So far from a look its own three hours are further from others than those speak for."""
# The laws of readings are drawn more often: what breaks them is rare.
_DRAWN = settings().max_examples
COUNT = {60: 150}.get(_DRAWN, _DRAWN)


@st.composite
def weeks(draw: st.DrawFn) -> Case:
    """A week's mortar with many looks while it hardens: there a reading decides."""
    floor = zone(layer(sheet("thinset", 7.0), START, "mortar"))
    log = []
    for index in range(draw(st.integers(1, 14))):
        at = START + draw(st.integers(-12, 100)) * HOUR
        value_c = draw(st.floats(6.0, 26.0) | st.sampled_from([16.0, 12.0, 1.0, -1.0]))
        look = reading(at, value_c, draw(st.sampled_from(Place)))
        low_c = draw(st.sampled_from([None, None, value_c - 2.0]))
        log.append(replace(look, id=f"look-{index}", low_c=low_c))
    return Case(job(floor, climate=draw(climates())), tuple(log), START + 10 * DAY)


@st.composite
def sites(draw: st.DrawFn) -> Case:
    """Any job and log, over anything, heated by anything, with looks together day and night."""
    case = draw(st.one_of(weeks(), weeks(), cases()))
    more: list[Entry] = []
    for index in range(draw(st.integers(0, 3))):
        at = START + draw(st.integers(0, 20)) * 12 * HOUR
        for place in draw(st.lists(st.sampled_from(Place), max_size=3, unique=True)):
            look = reading(at, draw(st.floats(-3.0, 26.0)), place)
            more.append(replace(look, id=f"round-{index}-{place}"))
    climate = replace(
        case.job.expected,
        below=draw(st.sampled_from(Below)),
        heated_by=draw(st.sampled_from(HeatedBy)),
    )
    return replace(case, log=(*case.log, *more)).in_climate(climate)


def offset_k(case: Case) -> float:
    """Return what the bed is taken to be under its air [K]."""
    known = [entry for entry in case.log if entry.recorded <= case.as_of]
    looks = [entry for entry in known if isinstance(entry, Reading)]
    series = [entry for entry in known if isinstance(entry, Series)]
    return compute_bed_offset(case.job.expected, looks, series, START, RULES, case.job.tz)


def stops(made: Plan) -> set[tuple[str, str | None]]:
    """Return what stops a plan, and which layer."""
    return {
        (found.code, found.layer_id) for found in made.findings if found.severity is Severity.STOP
    }


def colder(entry: Entry, by_k: float, index: int) -> Entry:
    """Return a look, or one of a logger's readings, colder."""
    if isinstance(entry, Reading):
        low_c = None if entry.low_c is None else entry.low_c - by_k
        value_c = None if entry.temperature_c is None else entry.temperature_c - by_k
        return replace(entry, temperature_c=value_c, low_c=low_c)
    assert isinstance(entry, Series)
    points = list(entry.points)
    at, value_c, humidity = points[index % len(points)]
    points[index % len(points)] = (at, (value_c or 0.0) - by_k, humidity)
    return replace(entry, points=tuple(points))


@settings(max_examples=COUNT)
@given(case=sites(), which=st.integers(0, 20), index=st.integers(0, 4), by_k=st.floats(0.1, 8.0))
def test_a_reading_made_colder_brings_no_end_nearer(
    case: Case, which: int, index: int, by_k: float
) -> None:
    read = [entry for entry in case.log if isinstance(entry, Reading | Series)]
    assume(read)
    chosen = read[which % len(read)]
    log = tuple(colder(entry, by_k, index) if entry is chosen else entry for entry in case.log)
    after = replace(case, log=log)
    # Colder air beside the same surface means a bed less far under it: that is another law's.
    assume(offset_k(after) <= offset_k(case))
    before_plan, after_plan = case.plan(), after.plan()
    assert_never_earlier(before_plan, after_plan)
    assert stops(before_plan) <= stops(after_plan)


@settings(max_examples=COUNT)
@given(case=sites(), which=st.integers(0, 20), value_c=st.floats(-5.0, 35.0))
def test_a_second_look_where_there_was_one_brings_no_end_nearer(
    case: Case, which: int, value_c: float
) -> None:
    looks = [entry for entry in case.log if isinstance(entry, Reading)]
    assume(looks)
    twin = replace(looks[which % len(looks)], id="twin", temperature_c=value_c, low_c=None)
    before, after = case.plan(), replace(case, log=(*case.log, twin)).plan()
    assert_never_earlier(before, after)
    assert stops(before) <= stops(after)


@given(
    case=sites(),
    place=st.sampled_from(Place),
    values_c=st.lists(st.floats(-3.0, 26.0), min_size=8, max_size=30),
    first_h=st.integers(0, 300),
    at_part=st.floats(0.0, 1.0),
    value_c=st.floats(-5.0, 35.0),
)
def test_a_look_beside_a_logger_of_its_place_brings_no_end_nearer(
    case: Case,
    place: Place,
    values_c: Sequence[float],
    first_h: int,
    at_part: float,
    value_c: float,
) -> None:
    first = START + first_h * HOUR
    beside = logger("beside", first, HOUR, values_c, None, place)
    others = tuple(
        entry
        for entry in case.log
        if not (isinstance(entry, Reading | Series) and entry.place is place)
    )
    at = first + (3 + at_part * (len(values_c) - 7)) * HOUR
    look = replace(reading(at, value_c, place), id="beside-look")
    # A logger that was not handed in yet is no reading beside the look.
    base = replace(case, log=(*others, beside), as_of=max(case.as_of, beside.recorded))
    after = replace(base, log=(*base.log, look))
    assume(offset_k(after) <= offset_k(base))
    before_plan, after_plan = base.plan(), after.plan()
    assert_never_earlier(before_plan, after_plan)
    assert stops(before_plan) <= stops(after_plan)


# Each case makes several plans of weeks nobody measured: a fifth of the others' number.
@settings(max_examples=COUNT // 5)
@given(
    case=cases(all_done=True, least_c=COLDEST_C),
    place=st.sampled_from(Place),
    at_h=st.integers(0, 900),
    part=st.floats(0.0, 1.0),
)
def test_a_look_in_silence_brings_an_end_no_nearer_than_by_what_it_covers(
    case: Case, place: Place, at_h: int, part: float
) -> None:
    """No warmer than expected, no colder than the coldest, where nothing was read for a day."""
    climate = expected(20.0, coldest_c=COLDEST_C)
    at: datetime = START + at_h * HOUR
    # A display's lowest value speaks for its whole stretch: that is no silence.
    quiet = tuple(
        replace(entry, low_c=None)
        for entry in case.log
        if isinstance(entry, Reading) and abs(entry.at - at) > QUIET
    )
    base = replace(case, log=quiet, as_of=max(case.as_of, at + DAY)).in_climate(climate)
    value_c = COLDEST_C + part * (20.0 - COLDEST_C)
    # Of its temperature: what dries gains as much by one dry look as a damp silence had withheld.
    look = replace(reading(at, value_c, place), id="in-silence", humidity=None)
    before, after = windows(base.plan()), windows(replace(base, log=(*quiet, look)).plan())
    for name, old in before.items():
        new = after[name]
        if old is None or new is None:
            assert new is None, name
            continue
        assert new.earliest >= old.earliest - SECONDS, name
        if old.latest is None or new.latest is None:
            assert new.latest is None, name
            continue
        # At 13 °C an hour counts for half an hour at least: six hours at full rate are worth
        # six hours of the silence they replace, and no more.
        assert new.latest >= old.latest - 6 * HOUR - SECONDS, name


@settings(max_examples=COUNT)
@given(case=sites(), at_h=st.integers(-12, 900), place=st.sampled_from(Place), by_k=st.floats(0, 5))
def test_a_look_no_warmer_than_what_was_read_near_it_brings_no_earliest_nearer(
    case: Case, at_h: int, place: Place, by_k: float
) -> None:
    """In a gap, before or after readings, near them or not; statements are of another strength."""
    at: datetime = START + at_h * HOUR
    log = tuple(entry for entry in case.log if not isinstance(entry, Kept))
    base = replace(case, log=log, as_of=max(case.as_of, at + DAY))
    below_k = offset_k(base)
    coldest_c = min([case.job.expected.air_c, *_read_near(log, at)]) + below_k
    look = replace(reading(at, coldest_c - by_k, place), id="in-silence", humidity=None)
    after = replace(base, log=(*log, look))
    # A surface beside its air tells how far the bed lies under it: that is another law's.
    assume(offset_k(after) <= below_k)
    before_plan, after_plan = base.plan(), after.plan()
    # A surface that was read speaks against frost in the air.
    assume(stops(before_plan) <= stops(after_plan))
    before, plans = windows(before_plan), windows(after_plan)
    for name, old in before.items():
        new = plans.get(name)
        if old is not None and new is not None:
            assert new.earliest >= old.earliest - SECONDS, name


def _read_near(log: Sequence[Entry], at: datetime) -> list[float]:
    """Return every temperature read within two days of an instant, or of an unknown one."""
    found = []
    for entry in log:
        if isinstance(entry, Reading):
            near = abs(entry.at - at) <= 2 * DAY
            found += [entry.temperature_c] if near and entry.temperature_c is not None else []
            found += [] if entry.low_c is None else [entry.low_c]
        if isinstance(entry, Series):
            found += [
                c for when, c, _ in entry.points if c is not None and abs(when - at) < 2 * DAY
            ]
    return found


@settings(max_examples=COUNT)
@given(case=cases(all_done=True, bare=False), later_h=st.integers(1, 24 * 60))
def test_dates_of_a_log_do_not_slide_without_a_new_fact(case: Case, later_h: int) -> None:
    log = tuple(entry for entry in case.log if max(entry.at, entry.recorded) <= case.as_of)
    now = replace(case, log=log)
    then = replace(now, as_of=now.as_of + later_h * HOUR)
    assert windows(now.plan()) == windows(then.plan())


@settings(max_examples=COUNT)
@given(
    case=sites(),
    place=st.sampled_from(Place),
    at_h=st.lists(st.integers(-12, 900), min_size=1, max_size=6),
    value_c=st.floats(-5.0, 35.0),
    humidity=st.none() | st.floats(0.05, 0.95),
)
def test_what_a_stranger_read_brings_no_end_nearer(
    case: Case, place: Place, at_h: list[int], value_c: float, humidity: float | None
) -> None:
    """Nor does it lift a stop: of somebody who is not of the job only bad news counts."""
    log = tuple(
        replace(
            reading(START + hour * HOUR, value_c, place, humidity, by="Max Stranger"),
            id=f"stranger-{index}",
        )
        for index, hour in enumerate(at_h)
    )
    before, after = case.plan(), replace(case, log=(*case.log, *log)).plan()
    assert_never_earlier(before, after)
    assert stops(before) <= stops(after)


@settings(max_examples=COUNT)
@given(
    case=sites(),
    at_h=st.lists(st.integers(-12, 900), min_size=1, max_size=6),
    value_c=st.floats(-5.0, 35.0),
)
def test_a_floor_of_which_nobody_says_whether_it_was_heated_brings_no_end_nearer(
    case: Case, at_h: list[int], value_c: float
) -> None:
    """A warm one may be the heating's own warmth; a cold one is cold."""
    log = tuple(
        replace(
            reading(START + hour * HOUR, value_c, Place.FLOOR, heating_off=False),
            id=f"unsaid-{index}",
        )
        for index, hour in enumerate(at_h)
    )
    before, after = case.plan(), replace(case, log=(*case.log, *log)).plan()
    assert_never_earlier(before, after)
    assert stops(before) <= stops(after)
