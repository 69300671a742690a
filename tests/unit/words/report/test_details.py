"""Details of a zone: what the job says of its cables, and the final cures nothing waits for."""

from __future__ import annotations

from dataclasses import replace

from planning_samples import RULES, START, job, layer, plan, sheet, wait, zone

from curecal.planning.plan import Plan
from curecal.trade.data_sheets import Milestone, TableWait
from curecal.trade.job import Cable, Heating, Laying, SensorPlace, Units, Zone
from curecal.words.json.plan_json import plan_json, read_plan
from curecal.words.layout import plain
from curecal.words.report.details import detail_lines
from curecal.words.report.explain import explain
from curecal.words.report.report import report
from curecal.words.sentences import words_for

LAYING = Laying(
    heated_area_m2=4.2,
    spacing_m=0.075,
    clearance_walls_m=0.1,
    clearance_drains_m=0.15,
    strapping_m=0.6,
    sensor_place=SensorPlace.MIDWAY,
)


def details(made: Plan) -> str:
    words = words_for(made.job, RULES)
    lines = [line for one in made.zones for line in plain(detail_lines(one, words, 200))]
    return "\n".join(lines)


def of(heating: Heating, *, imperial: bool = False) -> str:
    units = Units.IMPERIAL if imperial else Units.METRIC
    return details(plan(job(zone(layer("thinset", START), heating=heating), units=units)))


def curing() -> Zone:
    """Return a zone of a mortar whose sheet states a final cure of 21 days, and heat after 7."""
    mortar = sheet("thinset", 7.0)
    return zone(
        layer(replace(mortar, final_cure=wait(21.0, mortar)), START, "mortar"),
        layer(sheet("cement grout", 7.0), START, "grout"),
    )


def test_how_a_cable_lies_is_one_sentence() -> None:
    cable = Cable("", 240.0, 640.0, serial="S 0042", laying=LAYING)
    said = of(Heating(cables=(cable,), circuit="panel A, 12", heated_area_m2=4.2))
    assert "  - Circuit: panel A, 12" in said.splitlines()
    assert (
        "  - Cable: serial number S 0042, heats 4.2 m², runs 75 mm apart, 100 mm from walls and"
        " fixtures, 150 mm from drains and pipes, straps 600 mm apart, floor sensor midway between"
        " two runs."
    ) in said.splitlines()


def test_of_several_cables_each_has_its_sentence_and_all_their_area() -> None:
    cables = (
        Cable("A", laying=Laying(heated_area_m2=2.0)),
        Cable("B", laying=Laying(heated_area_m2=3.0)),
        Cable("C", laying=Laying(heated_area_m2=1.0)),
    )
    assert of(Heating(cables=cables)).splitlines()[2:] == [
        "  - The cables heat 6 m² together",
        "  - Cable A: heats 2 m².",
        "  - Cable B: heats 3 m².",
        "  - Cable C: heats 1 m².",
    ]


def test_what_the_job_does_not_say_has_no_line() -> None:
    assert of(Heating(cables=(Cable("", 240.0, 640.0, 90.0),))) == ""
    assert "Details" not in of(Heating())


def test_lengths_are_shown_in_the_jobs_units() -> None:
    said = of(Heating(cables=(Cable("", laying=Laying(spacing_m=0.0762)),)), imperial=True)
    assert "runs 3 in apart" in said


def test_a_final_cure_is_shown_and_is_not_the_wait_before_heat() -> None:
    made = plan(job(curing()))
    words = words_for(made.job, RULES)
    said = (
        "inal cure 21 days at 20 °C (data sheet: invented sheet, p. 1). For information only:"
        " nothing waits for it, and it is no wait before heat."
    )
    assert f"  - mortar: f{said}" in details(made).splitlines()
    assert details(made) in "\n".join(plain(report(made, (), words=words, width=200, full=True)))
    for name in (None, "mortar"):
        lines = plain(explain(made, words=words, width=200, layer=name))
        assert f"    F{said}" in lines
    assert not any(
        "inal cure" in line for line in plain(explain(made, words=words, width=200, layer="grout"))
    )
    heat = made.zones[0].layers[0].milestones[Milestone.HEAT].window
    assert heat is not None
    assert (heat.earliest - START).days == 7


def test_without_the_final_cure_every_date_is_the_same() -> None:
    mortar, grout = curing().layers
    bare = replace(mortar, sheet=replace(mortar.sheet, final_cure=None))
    with_it, without = plan(job(curing())), plan(job(zone(bare, grout)))
    assert with_it.zones[0].energize == without.zones[0].energize
    assert details(without) == ""


def test_a_final_cure_by_temperature_has_no_one_time_and_is_left_out() -> None:
    mortar, grout = curing().layers
    cure = mortar.sheet.final_cure
    assert cure is not None
    table = replace(cure, amount=TableWait(((10.0, 1e6), (20.0, 5e5))))
    odd = replace(mortar, sheet=replace(mortar.sheet, final_cure=table))
    assert details(plan(job(zone(odd, grout)))) == ""


def test_machine_output_holds_the_heating_and_the_final_cure_and_is_read_back() -> None:
    cable = Cable("", 240.0, 640.0, 90.0, serial="S 0042", laying=LAYING)
    heating = Heating(cables=(cable,), circuit="panel A, 12", protection="RCD 30 mA")
    made = plan(job(replace(curing(), heating=heating)))
    words = words_for(made.job, RULES)
    document = plan_json(made, (), words=words, version="0.1.0", tzdata="2026b")
    (found,) = document["zones"]
    assert found["heating"] == {
        "kind": "electric",
        "circuit": "panel A, 12",
        "supply_v": None,
        "breaker_a": None,
        "protection": "RCD 30 mA",
        "protection_source": None,
        "heated_area_m2": 4.2,
        "cables": [
            {
                "name": "",
                "serial": "S 0042",
                "voltage_v": 240.0,
                "power_w": 640.0,
                "resistance_ohm": 90.0,
                "laying": {
                    "heated_area_m2": 4.2,
                    "spacing_m": 0.075,
                    "clearance_walls_m": 0.1,
                    "clearance_drains_m": 0.15,
                    "strapping_m": 0.6,
                    "sensor_place": "midway between two runs",
                },
            }
        ],
    }
    assert found["layers"][0]["final_cure"] == {
        "wait_s": 21 * 86400.0,
        "rated_c": 20.0,
        "source": "invented sheet, p. 1",
    }
    assert found["layers"][1]["final_cure"] is None
    (back,) = read_plan(document, "kept.json").zones
    assert back.heating is not None
    assert back.heating.cables[0].laying == LAYING
    for layer_kept in found["layers"]:
        del layer_kept["final_cure"]
    del found["heating"]
    (older,) = read_plan(document, "kept.json").zones
    assert (older.heating, older.layers[0].final_cure) == (None, None)
