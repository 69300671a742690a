"""A zone's climate: which reading counts, what fills the gaps, where frost is on record."""

from __future__ import annotations

from datetime import timedelta, timezone

import pytest
from planning_samples import ADA, DAY, RULES, START, expected, reading, zone
from segment_samples import humidity_at, temperature_at

from curecal.planning.climate.zone_climate import Climate, End, make_climate
from curecal.planning.site_log.log_at_instant import facts_at
from curecal.trade.job import Below, Expected, HeatedBy
from curecal.trade.site_log import Entry, Kept, Place, Series

HOUR = timedelta(hours=1)
REACH_H = RULES.spot_readings.lone_s / 3600.0
"""How far a single reading reaches, where that is not what a test is about [h]."""


def climate(*log: Entry, made: Expected | None = None, as_of_h: float = 240.0) -> Climate:
    facts = facts_at(log, START + HOUR * as_of_h, (ADA,))
    return make_climate(
        zone(), made or expected(20.0, coldest_c=15.0, dampest=0.7), facts, START, RULES
    )


def at(made: Climate, end: End, hour: float) -> tuple[float, float]:
    """Temperature and humidity at an hour."""
    seconds = hour * 3600.0
    for segment in made.histories[end]:
        if segment.start_s <= seconds < segment.end_s:
            return (
                pytest.approx(temperature_at(segment, seconds)),
                pytest.approx(humidity_at(segment, seconds)),
            )
    raise AssertionError(hour)


def test_nothing_measured_counts_as_expected_and_as_the_coldest() -> None:
    made = climate()
    assert at(made, End.EARLIEST, 10) == (20.0, 0.5)
    assert at(made, End.LATEST, 10) == (15.0, 0.7)
    assert at(made, End.EARLIEST, 1000) == (20.0, 0.5)
    assert at(made, End.LATEST, 1000) == (15.0, 0.7)


def test_silent_coldest_and_dampest() -> None:
    made = climate(made=Expected(20.0, 0.85))
    assert made.assumed.bed_c[End.LATEST] == 15.0
    assert made.assumed.humidity[End.LATEST] == pytest.approx(0.95)
    silent = climate(made=Expected(20.0))
    assert silent.assumed.humidity[End.EARLIEST] == 0.65
    assert silent.assumed.humidity[End.LATEST] == pytest.approx(0.80)
    drenched = climate(made=Expected(20.0, 0.97))
    assert drenched.assumed.humidity[End.LATEST] == 0.97


def test_a_coldest_above_the_expected_is_no_better_than_it() -> None:
    made = climate(made=Expected(18.0, 0.5, 21.0, 0.4))
    assert made.assumed.bed_c[End.LATEST] == 18.0
    assert made.assumed.humidity[End.LATEST] == 0.5


def test_readings_count_at_both_ends() -> None:
    made = climate(reading(START, 12.0), reading(START + DAY, 14.0))
    for end in End:
        assert at(made, end, 10)[0] == 12.0
    assert made.measured == ((0.0, (24 + REACH_H) * 3600.0),)
    assert made.share_measured(START, START + DAY * 2) == pytest.approx((24 + REACH_H) / 48)
    assert made.share_measured(START, START) == 0.0


def test_silence_counts_as_expected_and_at_the_coldest_but_near_a_reading_no_warmer() -> None:
    made = climate(reading(START + DAY * 4, 12.0), as_of_h=240.0)
    for hour in (0, 71, 121, 239, 241, 1000):
        assert (at(made, End.EARLIEST, hour)[0], at(made, End.LATEST, hour)[0]) == (20.0, 15.0)
    for hour in (73, 90, 96, 100, 119):
        assert (at(made, End.EARLIEST, hour)[0], at(made, End.LATEST, hour)[0]) == (12.0, 12.0)


def test_a_gap_between_readings_is_silence_like_any_other() -> None:
    made = climate(reading(START, 18.0), reading(START + DAY * 3, 13.0))
    early = [at(made, End.EARLIEST, hour)[0] for hour in (2, 23, 25, 47, 49, 71)]
    late = [at(made, End.LATEST, hour)[0] for hour in (2, 23, 25, 47, 49, 71)]
    assert early == [18.0, 18.0, 20.0, 20.0, 13.0, 13.0]
    assert late == [18.0, 15.0, 15.0, 15.0, 13.0, 13.0]


def test_of_two_readings_near_silence_the_colder_bounds_it() -> None:
    made = climate(reading(START, 18.0), reading(START + HOUR * 30, 16.0))
    assert [at(made, End.EARLIEST, hour)[0] for hour in (5, 15, 25, 34)] == [18.0, 16.0, 16.0, 16.0]
    # What was read an hour ago ends no cold of the day before.
    warmed = climate(reading(START, 8.0), reading(START + HOUR * 10, 19.0, Place.AIR))
    assert [at(warmed, End.EARLIEST, hour)[0] for hour in (12, 14, 23, 25)] == [
        19.0,
        8.0,
        8.0,
        19.0,
    ]


def test_a_warm_reading_bounds_silence_and_never_raises_it() -> None:
    made = climate(reading(START + DAY, 26.0))
    assert [at(made, End.EARLIEST, hour)[0] for hour in (20, 24, 28)] == [20.0, 26.0, 20.0]
    assert [at(made, End.LATEST, hour)[0] for hour in (20, 24, 28)] == [15.0, 26.0, 15.0]


def test_silence_near_damp_is_no_drier_than_it() -> None:
    made = climate(reading(START + DAY * 2, 20.0, humidity=0.6))
    assert [at(made, End.EARLIEST, hour)[1] for hour in (23, 25, 71, 73)] == [0.5, 0.6, 0.6, 0.5]
    assert [at(made, End.LATEST, hour)[1] for hour in (23, 25, 48, 71)] == [0.7, 0.7, 0.6, 0.7]
    drenched = climate(reading(START + DAY * 2, 20.0, humidity=0.9))
    assert [at(drenched, End.LATEST, hour)[1] for hour in (23, 25, 71, 73)] == [0.7, 0.9, 0.9, 0.7]


def test_over_ground_silence_near_cold_air_is_colder_than_it() -> None:
    ground = expected(20.0, coldest_c=15.0, below=Below.GROUND)
    made = climate(reading(START + DAY, 14.0, Place.AIR), made=ground)
    assert [at(made, End.EARLIEST, hour)[0] for hour in (10, 40, 50)] == [11.0, 11.0, 17.0]


def test_a_reading_of_any_rank_bounds_silence() -> None:
    made = climate(reading(START, 18.0), reading(START, 14.0, Place.AIR))
    assert [at(made, End.EARLIEST, hour)[0] for hour in (2, 4, 23, 25)] == [18.0, 14.0, 14.0, 20.0]


def test_a_reading_before_the_work_bounds_its_first_hours() -> None:
    made = climate(reading(START - HOUR * 14, 9.0))
    assert [at(made, End.EARLIEST, hour)[0] for hour in (1, 9, 11)] == [9.0, 9.0, 20.0]


def test_what_was_read_just_now_speaks_for_what_comes() -> None:
    look = reading(START + HOUR * 5, 17.0)
    then, later = climate(look, as_of_h=5.0), climate(look, as_of_h=100.0)
    for hour in (6, 9, 28, 30, 99):
        for end in End:
            assert at(then, end, hour) == at(later, end, hour)
    # Only time that has passed is measured.
    assert then.measured == ((2 * 3600.0, 5 * 3600.0),)


def test_a_surface_counts_before_the_air_and_the_cold_floor_before_both() -> None:
    log = [
        reading(START, 20.0, Place.AIR),
        reading(START + DAY, 20.0, Place.AIR),
        reading(START + HOUR * 6, 16.0, Place.SURFACE),
        reading(START + HOUR * 6, 17.0, Place.FLOOR),
        reading(START + HOUR * 20, 29.0, Place.FLOOR, heating_off=False),
    ]
    made = climate(*log)
    assert at(made, End.EARLIEST, 6)[0] == 17.0
    assert at(made, End.EARLIEST, 20)[0] == 20.0


def pair(hour: float, air_c: float, surface_c: float) -> list[Entry]:
    """Return a look at the air and one at the surface, an hour count after noon."""
    at = START + HOUR * hour
    return [reading(at, air_c, Place.AIR), reading(at, surface_c)]


def test_over_ground_the_air_counts_three_kelvin_colder_until_the_surface_is_known() -> None:
    ground = expected(20.0, below=Below.GROUND)
    assert climate(made=ground).assumed.bed_c[End.EARLIEST] == 17.0
    air = [reading(START, 20.0, Place.AIR), reading(START + DAY, 20.0, Place.AIR)]
    assert at(climate(*air, made=ground), End.EARLIEST, 5)[0] == 17.0
    noon, night, again = pair(0, 20.0, 20.5), pair(12, 20.0, 18.0), pair(24, 20.0, 20.5)
    # One look, looks of one day, looks at noon day after day: nothing is known of the night.
    for log in (noon, [*noon, *night], [*noon, *again]):
        assert climate(*log, made=ground).assumed.offset_k == -3.0
    made = climate(*noon, *night, *again, made=ground)
    assert made.assumed.offset_k == -2.0
    assert at(made, End.EARLIEST, 200)[0] == 18.0
    colder = pair(30, 20.0, 15.5)
    assert climate(*noon, *night, *again, *colder, made=ground).assumed.offset_k == -4.5


def test_it_is_night_by_the_clock_of_the_site() -> None:
    ground = expected(20.0, below=Below.GROUND)
    facts = facts_at([*pair(0, 20.0, 18.0), *pair(24, 20.0, 18.0)], START + DAY * 10, (ADA,))
    told = [
        make_climate(zone(), ground, facts, START, RULES, site=timezone(HOUR * hours))
        for hours in (0, 7, 8, -4, -5)
    ]
    assert [made.assumed.offset_k for made in told] == [-3.0, -3.0, -2.0, -3.0, -2.0]


def test_a_surface_warmer_than_its_air_is_no_credit() -> None:
    ground = expected(20.0, below=Below.GROUND)
    log = [*pair(0, 20.0, 22.0), *pair(12, 20.0, 22.0), *pair(24, 20.0, 22.0)]
    assert climate(*log, made=ground).assumed.offset_k == 0.0


def test_a_surface_without_air_beside_it_keeps_the_allowance() -> None:
    ground = expected(20.0, below=Below.GROUND)
    assert climate(reading(START, 18.0), made=ground).assumed.offset_k == -3.0


def test_a_signed_statement_covers_where_no_reading_does() -> None:
    kept = Kept(
        id="k",
        at=START + DAY * 4,
        recorded=START + DAY * 4,
        above_c=18.0,
        from_at=START,
        to_at=START + DAY * 4,
        by="Ada",
    )
    made = climate(kept, reading(START + DAY, 19.0, Place.AIR))
    assert at(made, End.LATEST, 10)[0] == 18.0
    assert at(made, End.LATEST, 24)[0] == 19.0
    assert made.measured == ((0.0, 4 * 86400.0),)


@pytest.mark.parametrize(("above_c", "early_c"), [(18.0, 18.0), (12.0, 12.0), (21.0, 20.0)])
def test_an_unsigned_statement_gives_no_credit_and_bounds_silence(
    above_c: float, early_c: float
) -> None:
    kept = Kept(
        id="k",
        at=START + DAY * 4,
        recorded=START + DAY * 4,
        above_c=above_c,
        from_at=START,
        to_at=START + DAY * 4,
    )
    made = climate(kept, reading(START + DAY * 4, 9.0))
    assert at(made, End.EARLIEST, 10)[0] == early_c
    assert at(made, End.LATEST, 10)[0] == min(early_c, 15.0)
    # It is no reason to doubt the cold that was read within the day.
    for end in End:
        assert at(made, end, 80)[0] == 9.0
    assert made.measured == ((93 * 3600.0, 99 * 3600.0),)


def test_a_statement_that_ends_before_it_begins_covers_nothing() -> None:
    kept = Kept(
        id="k", at=START + DAY, recorded=START + DAY, above_c=18.0, from_at=START + DAY, to_at=START
    )
    assert climate(kept).measured == ()


def test_a_displays_low_holds_since_the_look_before() -> None:
    log = [reading(START, 18.0), reading(START + HOUR * 12, 18.0, low_c=11.0)]
    assert at(climate(*log), End.EARLIEST, 6)[0] == 11.0
    gap = [reading(START, 18.0, low_c=17.0), reading(START + DAY * 3, 18.0, low_c=9.0)]
    # It may have been at any instant of its stretch, the last one too.
    for end in End:
        assert [at(climate(*gap), end, hour)[0] for hour in (5, 36, 80, 95)] == [9.0] * 4
    assert at(climate(*gap), End.EARLIEST, 97)[0] == 20.0


def test_a_loggers_hours_are_straight_and_its_holes_are_gaps() -> None:
    points = tuple((START + HOUR * hour, 10.0 + hour, 0.5) for hour in (0, 1, 2, 10, 11))
    series = Series(
        id="s",
        at=START + DAY,
        recorded=START + DAY,
        place=Place.SURFACE,
        device="a",
        interval_s=3600.0,
        points=points,
    )
    made = climate(series)
    assert at(made, End.EARLIEST, 0.5) == (10.5, 0.5)
    # Between 12 and 20 °C nothing was recorded: no warmer than the coldest of a day around.
    for end, humidity in ((End.EARLIEST, 0.5), (End.LATEST, 0.7)):
        assert at(made, end, 5) == (10.0, humidity)
    # As the coldest hours fall out of the day, the next ones bound what comes.
    assert [at(made, End.EARLIEST, hour)[0] for hour in (23.5, 24.5, 25.5, 26.5)] == [
        10.0,
        11.0,
        12.0,
        20.0,
    ]
    assert made.measured == ((0.0, 7200.0), (36000.0, 39600.0))


def test_of_two_loggers_the_colder_counts() -> None:
    def device(name: str, value_c: float) -> Series:
        points = tuple((START + HOUR * hour, value_c, None) for hour in range(5))
        return Series(
            id=name,
            at=START,
            recorded=START,
            place=Place.AIR,
            device=name,
            interval_s=3600.0,
            points=points,
        )

    assert at(climate(device("a", 18.0), device("b", 16.0)), End.EARLIEST, 2)[0] == 16.0


def test_humidity_has_a_coverage_of_its_own() -> None:
    log = [
        reading(START, 20.0, humidity=0.6),
        reading(START + DAY, 20.0),
        reading(START + DAY * 2, 20.0),
    ]
    made = climate(*log)
    assert at(made, End.EARLIEST, 1) == (20.0, 0.6)
    assert at(made, End.EARLIEST, 30) == (20.0, 0.5)
    assert at(made, End.LATEST, 30) == (20.0, 0.7)


@pytest.mark.parametrize(
    ("log", "frost_h"),
    [
        ([reading(START, 0.0)], [(0, REACH_H)]),
        ([reading(START, 0.1)], []),
        ([reading(START, 2.0, Place.AIR)], [(0, REACH_H)]),
        ([reading(START, 2.1, Place.AIR)], []),
        ([reading(START, 1.0, Place.AIR), reading(START, 1.0)], []),
        (
            [reading(START, 10.0), reading(START + HOUR * 30, 10.0, low_c=-1.0)],
            [(float("-inf"), 30)],
        ),
        (
            [reading(START, 10.0, low_c=9.0), reading(START + HOUR * 30, 10.0, low_c=-1.0)],
            [(0, 30)],
        ),
        ([reading(START + HOUR * 30, 10.0, Place.AIR, low_c=2.0)], [(float("-inf"), 30)]),
    ],
)
def test_frost_is_what_was_measured(log: list[Entry], frost_h: list[tuple[float, float]]) -> None:
    assert list(climate(*log).frost) == [(a * 3600, b * 3600) for a, b in frost_h]


def test_over_ground_the_bed_freezes_in_warmer_air() -> None:
    made = climate(reading(START, 2.9, Place.AIR), made=expected(20.0, below=Below.GROUND))
    assert made.frost == ((0.0, REACH_H * 3600.0),)


def test_where_nothing_heats_the_house_a_look_covers_three_hours() -> None:
    cold = Expected(14.0, 0.5, -5.0, 0.7, heated_by=HeatedBy.NOTHING)
    made = climate(*(reading(START + DAY * day, 14.0) for day in range(3)), made=cold)
    assert made.measured == ((0.0, 10800.0), (75600.0, 97200.0), (162000.0, 183600.0))
    assert at(made, End.LATEST, 12)[0] == -5.0
    kept = [reading(START, 14.0), reading(START + DAY, 14.0, low_c=4.0)]
    made = climate(*kept, made=cold)
    assert made.measured == ((0.0, 97200.0),)
    assert at(made, End.LATEST, 12)[0] == 4.0


def test_half_way_between_a_loggers_readings_far_apart_the_air_counts_too() -> None:
    points = tuple((START + HOUR * hour, 18.0, None) for hour in (0, 12, 24))
    slow = Series(
        id="s",
        at=START + DAY,
        recorded=START + DAY,
        place=Place.SURFACE,
        device="a",
        interval_s=12 * 3600.0,
        points=points,
    )
    made = climate(slow, reading(START + HOUR * 6, 12.0, Place.AIR))
    assert [at(made, End.LATEST, hour)[0] for hour in (2, 6, 10)] == [18.0, 12.0, 18.0]


def test_a_statement_is_no_reading_colder_than_what_the_surface_holds() -> None:
    kept = Kept(
        id="k",
        at=START + DAY,
        recorded=START + DAY,
        above_c=1.0,
        from_at=START,
        to_at=START + DAY,
        by="Ada",
    )
    made = climate(kept, reading(START, 18.0), reading(START + DAY, 18.0))
    assert at(made, End.LATEST, 12)[0] == 18.0
    assert made.frost == ()


def test_a_heated_floors_low_is_no_frost() -> None:
    log = reading(START, 20.0, Place.FLOOR, low_c=-3.0, heating_off=False, heating_on=True)
    assert climate(log).frost == ()


def test_the_low_of_a_floor_nobody_says_was_heated_is_frost() -> None:
    log = reading(START, 20.0, Place.FLOOR, low_c=-3.0, heating_off=False)
    assert climate(log).frost != ()
    assert climate(log).measured == ()


def test_where_nobody_said_what_lies_below_ground_counts_for_the_late_end_only() -> None:
    log = [reading(START, 18.0, Place.AIR)]
    ends = {}
    for below in (None, Below.HEATED_ROOM, Below.GROUND):
        ends[below] = climate(*log, made=Expected(20.0, 0.5, 15.0, 0.5, below=below))
    silent, room, ground = ends[None], ends[Below.HEATED_ROOM], ends[Below.GROUND]
    assert silent.histories[End.EARLIEST] == room.histories[End.EARLIEST]
    assert silent.histories[End.LATEST] == ground.histories[End.LATEST]
    assert silent.assumed.bed_c == {End.EARLIEST: 20.0, End.LATEST: 12.0}
    assert silent.frost == room.frost
