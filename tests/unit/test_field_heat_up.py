"""A finished floor in the field, one thing otherwise each time: how it is heated.

The floor: mortar 3 March, grout 5 March at noon, seven days each at 20 °C by their sheets, so heat
from 12 March at noon. Where a case rests on print, its source stands beside it; all else are our
own rules of the date, and common practice where it says so.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from field_jobs import (
    BED_LAYER,
    ELECTRICIAN,
    FLOOR,
    GLUE,
    GROUT_LAYER,
    JOB,
    KEPT,
    RELEASED,
    SEEN,
    STRANGER,
    covering,
    entry,
    floor_reading,
    layer,
    put,
    see,
)

from curecal.reminders.builders.bare_heat_up import shown_number
from curecal.words.catalogue import catalogue
from curecal.words.sentences import Words
from curecal.words.values import Reader

DAY = timedelta(days=1)


# Floors heated by water: at most 55 °C at the pipes of cement and calcium-sulfate screeds (DIN
# 18560-2, EN 1264-4); after tiling at most 5 °C a day (a tile contractors' note beside BS 5385-4).

_ELECTRIC = 'voltage = "230 V"\npower = "1000 W"\nresistance = "52.9 Ω"\n'
BARE_SCREED = layer(
    "screed",
    "screed",
    "2026-02-10T12:00:00",
    'thickness = "65 mm"',
    "heat_before_covering = true",
)


def by_water(*flow: str, bare: bool = False) -> str:
    wanted = ", ".join(f'"{step}"' for step in flow)
    job = put(JOB, (_ELECTRIC, 'kind = "water"\n'), ('target = "29 °C"', f"flow = [{wanted}]"))
    if not bare:
        return job + KEPT + RELEASED
    # Nothing lies on the screed yet.
    planned = put(job, ("done = 2026-03-03T12:00:00\n", ""), ("done = 2026-03-05T12:00:00\n", ""))
    mortar = '[[zone.layer]]\nname = "mortar"'
    return put(planned, (mortar, f"{BARE_SCREED}{mortar}"))


def steps(text: str, purpose: str, at: datetime = SEEN) -> list[float]:
    """Return the set-points of one heat-up, a figure a step [°C]."""
    heat_ups = see(text, at).zone.heat_ups
    found = next(heat_up for heat_up in heat_ups if heat_up.purpose == purpose)
    return [round(step.to_c, 2) for step in found.steps]


@pytest.mark.parametrize(
    ("flow", "bare"),
    [
        (("25 °C for 3 d", "70 °C for 4 d"), False),
        (("25 °C for 3 d", "70 °C for 4 d"), True),
        (("80 °C for 4 d",), True),
        (("25 °C for 3 d", "56 °C for 4 d"), True),
        (("132 °F for 4 d",), True),
    ],
)
def test_a_flow_over_55_degrees_is_refused(flow: tuple[str, ...], *, bare: bool) -> None:
    seen = see(by_water(*flow, bare=bare))
    assert (seen.plan, "flow-too-hot" in seen.codes) == (None, True)


@pytest.mark.parametrize("highest", ["55 °C", "131 °F"])
def test_a_flow_of_55_degrees_is_not(highest: str) -> None:
    text = by_water("25 °C for 3 d", f"{highest} for 4 d", bare=True)
    assert steps(text, "bare screed") == [25.0, 55.0]


@pytest.mark.parametrize(
    ("flow", "wanted"),
    [
        (("25 °C for 3 d", "30 °C for 4 d"), [25.0, 30.0]),
        (("55 °C for 3 d",), [30.0, 35.0, 40.0, 45.0, 50.0, 55.0]),
        (("25 °C for 1 d", "38 °C for 3 d", "20 °C for 1 d"), [25.0, 30.0, 35.0, 38.0, 20.0]),
        (("20 °C for 1 d", "28 °C for 3 d"), [20.0, 25.0, 28.0]),
    ],
)
def test_under_a_finished_floor_water_rises_5_degrees_a_day(
    flow: tuple[str, ...], wanted: list[float]
) -> None:
    text = by_water(*flow)
    assert steps(text, "first heat") == wanted
    assert ("flow-rises-steeply" in see(text).codes) is (len(wanted) != len(flow))


def test_a_gentler_wish_counts_for_water_too() -> None:
    text = put(
        by_water("25 °C for 1 d", "29 °C for 3 d"), ("flow = [", 'step = "2 °C/day"\nflow = [')
    )
    assert steps(text, "first heat") == [25.0, 27.0, 29.0]


def test_the_second_heat_up_of_a_bare_heated_screed_is_gentle() -> None:
    text = by_water("25 °C for 3 d", "45 °C for 4 d", bare=True)
    assert steps(text, "bare screed") == [25.0, 45.0]
    assert steps(text, "first heat") == [25.0, 30.0, 35.0, 40.0, 45.0]


@pytest.mark.parametrize(
    ("purpose", "wanted"),
    [
        ("bare screed", ["25 °C (77 °F)", "45 °C (113 °F)"]),
        (
            "first heat",
            ["25 °C (77 °F)", "30 °C (86 °F)", "35 °C (95 °F)", "40 °C (104 °F)", "45 °C (113 °F)"],
        ),
    ],
)
def test_people_are_told_the_temperatures_of_the_profile(purpose: str, wanted: list[str]) -> None:
    """A bare screed goes to its highest at once (EN 1264-4): as shown too, and as reminded."""
    plan = see(by_water("25 °C for 3 d", "45 °C for 4 d", bare=True)).plan
    assert plan is not None
    heat_up = next(one for one in plan.zones[0].heat_ups if one.purpose == purpose)
    words = Words(catalogue("en"), Reader())
    assert list(words.settings(heat_up)) == wanted
    assert [shown_number(heat_up, index) for index in range(len(heat_up.steps))] == wanted
    # There is no cable to test, and nothing to connect to a thermostat.
    assert "cable" not in words.condition(heat_up)


@pytest.mark.parametrize(("kind", "named"), [("wood", True), ("vinyl", True), ("stone", False)])
def test_the_floors_own_limit_is_named_where_water_heats_wood(kind: str, *, named: bool) -> None:
    """27 °C under wood and resilient flooring: common practice beside EN 1264-2."""
    layers = ((BED_LAYER, ""), (GROUT_LAYER, layer("glue", "glue", "2026-03-05T12:00:00") + GLUE))
    floor = put(by_water("25 °C for 3 d", "30 °C for 4 d"), covering(kind), *layers)
    found = [one for one in see(floor).findings if one.code == "flow-and-floor-limit"]
    assert [one.params["limit_c"] for one in found] == ([27.0] if named else [])


def test_a_steep_rise_of_the_water_that_was_set_is_named() -> None:
    told = by_water("25 °C for 3 d", "30 °C for 4 d") + entry("energized", "2026-03-14T08:10:00")
    gentle = entry("heat_step", "2026-03-14T08:10:00", 'to = "25 °C"')
    later = entry("heat_step", "2026-03-15T08:10:00", 'to = "30 °C"')
    steep = entry("heat_step", "2026-03-15T08:10:00", 'to = "45 °C"')
    at = SEEN + 2 * DAY
    assert "heat-step-steep" not in see(told + gentle + later, at).codes
    assert {"heat-step-steep", "set-over-limit"} <= see(told + gentle + steep, at).codes


# The first heat: from which temperature, and what a pause does.


MORNING = datetime(2026, 3, 16, 7, 30, tzinfo=UTC)
FROM_17 = [17.0, 22.0, 27.0, 29.0]


@pytest.mark.parametrize(
    ("case", "readings", "wanted"),
    [
        ("one", [(7, 17, "off", ELECTRICIAN)], FROM_17),
        ("two at one instant", [(7, 17, "off", ELECTRICIAN), (7, 26, "off", ELECTRICIAN)], FROM_17),
        ("a jump", [(5, 17, "off", ELECTRICIAN), (6, 26, "off", ELECTRICIAN)], FROM_17),
        ("a jump down", [(5, 26, "off", ELECTRICIAN), (6, 17, "off", ELECTRICIAN)], FROM_17),
        ("unsigned", [(7, 27, "off", "")], FROM_17),
        ("heating unknown", [(7, 27, "", ELECTRICIAN)], FROM_17),
        ("a stranger", [(7, 27, "off", STRANGER)], FROM_17),
        ("colder, unsigned", [(7, 12, "off", "")], [12.0, *FROM_17]),
        ("colder, heating unknown", [(7, 12, "", ELECTRICIAN)], [12.0, *FROM_17]),
        (
            "colder, a stranger",
            [(7, 17, "off", ELECTRICIAN), (7, 12, "off", STRANGER)],
            [12.0, *FROM_17],
        ),
        (
            "warmed slowly",
            [(-10, 17, "off", ELECTRICIAN), (7, 19, "off", ELECTRICIAN)],
            [19.0, 24.0, 29.0],
        ),
    ],
)
def test_the_first_heat_starts_from_the_colder_of_what_was_read(
    case: str, readings: list[tuple[int, float, str, str]], wanted: list[float]
) -> None:
    """Until measured it starts at the air less 3 K: 17 °C in a room of 20 °C."""
    day = datetime(2026, 3, 16, tzinfo=UTC)
    told = "".join(
        floor_reading(f"{day + timedelta(hours=hour):%Y-%m-%dT%H:%M:%S}", value_c, heating, by)
        for hour, value_c, heating, by in readings
    )
    assert steps(FLOOR + RELEASED + told, "first heat", MORNING) == wanted, case


RUNNING = (
    FLOOR
    + RELEASED
    + floor_reading("2026-03-16T07:00:00", 20)
    + entry("energized", "2026-03-16T08:00:00")
    + entry("heat_step", "2026-03-16T08:00:00", 'to = "20 °C"')
    + entry("heat_step", "2026-03-17T08:00:00", 'to = "25 °C"')
)
WEEKS_LATER = datetime(2026, 4, 7, 9, tzinfo=UTC)
FROM_12 = [12.0, 17.0, 22.0, 27.0, 29.0]
AS_BEGUN = [20.0, 25.0, 29.0]


@pytest.mark.parametrize(
    ("case", "more", "wanted"),
    [
        ("nothing told", "", AS_BEGUN),
        ("seen on", floor_reading("2026-04-07T08:00:00", 24, "on"), AS_BEGUN),
        ("seen off and cold", floor_reading("2026-04-07T08:00:00", 12), FROM_12),
        ("cold, nobody said whether on", floor_reading("2026-04-07T08:00:00", 12, ""), FROM_12),
        (
            "on, and far colder than it began",
            floor_reading("2026-04-07T08:00:00", 12, "on"),
            FROM_12,
        ),
        ("cold, unsigned", floor_reading("2026-04-07T08:00:00", 12, by=""), FROM_12),
        (
            "switched on a second time",
            floor_reading("2026-04-07T08:00:00", 12) + entry("energized", "2026-04-07T08:30:00"),
            FROM_12,
        ),
        (
            "a step at once to the top",
            floor_reading("2026-04-07T08:00:00", 12)
            + entry("heat_step", "2026-04-07T08:30:00", 'to = "29 °C"'),
            FROM_12,
        ),
        ("on again, not measured", entry("energized", "2026-04-07T08:30:00"), FROM_17),
    ],
)
def test_a_floor_off_for_weeks_starts_anew(case: str, more: str, wanted: list[float]) -> None:
    assert steps(RUNNING + more, "first heat", WEEKS_LATER) == wanted, case
    is_steep = "heat-step-steep" in see(RUNNING + more, WEEKS_LATER).codes
    assert is_steep is (case == "a step at once to the top")
