"""`log`: every entry with its id, corrections beside what they correct, in the job's units."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from note_samples import SITE, Site, entry

from curecal.job_files.entry_lines import EntryRow, entry_text
from curecal.toml_files.log_schema import KINDS
from curecal.trade.site_log import Place, Series
from curecal.words.sentences import plain_words

EVERY = "\n".join(
    [
        entry(
            at="2026-10-01T08:00:00",
            kind='"resistance"',
            id='"e-laid"',
            stage='"laid"',
            zone='"loft"',
            cable='"mat by the door"',
            conductor='"90.2 Ω"',
            to_earth='"open"',
            insulation='"> 2 GΩ"',
            insulation_at='"500 V"',
            sensor='"12.1 kΩ"',
            floor='"20 °C"',
            meter='"M 3"',
            by='"E. Lectric"',
        ),
        entry(
            at="2026-10-01T09:00:00",
            kind='"resistance"',
            id='"e-bad"',
            stage='"delivery"',
            zone='"hall"',
            conductor='"open"',
            to_earth='"5 MΩ"',
            sensor='"open"',
        ),
        entry(
            at="2026-10-02T09:00:00",
            kind='"floor"',
            id='"e-floor"',
            floor='"70 °F"',
            heating='"off"',
            low='"61 °F"',
            recorded="2026-10-03T10:00:30",
            note='"after the\\nrain"',
        ),
        entry(
            at="2026-10-02T10:00:00",
            kind='"moisture"',
            id='"e-moist"',
            layer='"leveler"',
            value='"1.6 CM-%"',
            depth='"1 in"',
            points="3",
            heating_off_for='"24 h"',
            air='"68 °F"',
            humidity='"55 %"',
        ),
        entry(
            at="2026-10-02T11:00:00",
            kind='"connected"',
            id='"e-con"',
            zone='"hall"',
            locked="true",
            tagged="false",
            leads='"off the thermostat"',
            by='"E. Lectric"',
            entered_by='"R. Example"',
            **{"from": '"photo"'},
            photo='"card.jpg"',
        ),
        entry(
            at="2026-10-02T12:00:00",
            kind='"thermostat"',
            id='"e-th"',
            zone='"hall"',
            mode='"floor"',
            limit='"82 °F"',
        ),
        entry(
            at="2026-10-02T13:00:00",
            kind='"inspection"',
            id='"e-in"',
            layer='"leveler"',
            result='"not required"',
        ),
    ]
)


@pytest.fixture
def site(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Site:
    return Site(tmp_path, monkeypatch, capsys)


INSTANTS = {"from": "2026-09-01", "to": "2026-09-02", "until": "2026-09-02"}
IN_WORDS = [
    "air in hall: 64 °F, humidity 58 %, lowest since reset 60 °F",
    "surface in hall: 62 °F, humidity 58 %, lowest since reset 60 °F",
    "floor sensor in hall: 62 °F, humidity 58 %, lowest since reset 60 °F, heating off",
    (
        "room kept warm in hall: at or above 60 °F, from Wed 2 Sep 2026, 00:00, "
        "to Thu 3 Sep 2026, 00:00"
    ),
    "finished in hall: leveler, part shower side, lot L 1234, date and hour confirmed",
    (
        "cable test in loft: on delivery, cable mat by the door, conductor 90.2 Ω, to ground open, "
        "insulation above 2 GΩ, tested at 500 V, sensor 12.1 kΩ, floor at 68 °F, meter M 3"
    ),
    "not tested before covering in loft: on delivery, cable mat by the door",
    (
        "moisture test in hall: leveler, carbide test, 1.6 %, 1.18 in deep, 3 points, "
        "heating off for 24 h, air 68 °F, humidity 55 %"
    ),
    "moisture test points marked in hall: screed",
    "inspection in hall: passed, leveler",
    "ground-fault protection in hall: GFCI, trips at 5 mA, tripped, in 18 ms",
    "connected in hall: breaker off and locked, tagged, heating wires off the thermostat",
    "continuity alarm in loft: connected, cable mat by the door",
    "thermostat in hall: mode floor, limit 84.2 °F, schedule off",
    (
        "visit in hall: id test and connect, booked, rough-in, from Tue 8 Dec 2026, 09:00, "
        "to Tue 8 Dec 2026, 11:00, E. Example comes"
    ),
    "released in hall",
    "switched on in hall",
    "heat-up step in hall: set to 77 °F",
    "stopped in hall: tripped, it hums",
    "work goes on in hall: found: water in the box, dried",
    "photo in hall: cable.jpg, …",
    "note in hall: letter.pdf, …",
]


def with_log(site: Site, *entries: str) -> None:
    site.path.write_text("\n".join([SITE, *entries]), encoding="utf-8")


def air(name: str, at: str, **more: str) -> str:
    return entry(at=at, kind='"air"', id=f'"{name}"', air='"64 °F"', **more)


def test_entries_are_said_in_plain_words_in_the_job_s_units(site: Site) -> None:
    with_log(site, EVERY)
    assert site.run("log job.toml") == (
        """\
Thu 1 Oct 2026
  08:00  cable test in loft: after laying, cable mat by the door, conductor
         90.2 Ω, to ground open, insulation above 2 GΩ, tested at 500 V, sensor
         12.1 kΩ, floor at 68 °F, meter M 3
         e-laid, E. Lectric
  09:00  cable test in hall: on delivery, conductor open, to ground 5 MΩ, sensor
         open
         e-bad

Fri 2 Oct 2026
  09:00  floor sensor: 70 °F, lowest since reset 61 °F, heating off
         note: after the rain
         e-floor, recorded Sat 3 Oct 2026, 10:00
  10:00  moisture test in hall: leveler, carbide test, 1.6 %, 1 in deep, 3
         points, heating off for 24 h, air 68 °F, humidity 55 %
         e-moist
  11:00  connected in hall: breaker off and locked, not tagged, heating wires
         off the thermostat
         e-con, E. Lectric, typed by R. Example, known by: photo, photo card.jpg
  12:00  thermostat in hall: mode floor, limit 82 °F
         e-th
  13:00  inspection in hall: not required, leveler
         e-in
"""
    )


def examples() -> str:
    """Return an entry of every kind, with the example of every key."""
    made = []
    for day, (kind, keys) in enumerate(KINDS.items(), start=1):
        # A logger's readings stand in a file of their own, and are asked for there.
        if kind in {"correction", "readings"}:
            continue
        zone = '"loft"' if kind in {"resistance", "continuity", "not_tested"} else '"hall"'
        values = {key.name: INSTANTS.get(key.name, key.example) for key in keys}
        values |= {"to": '"25 °C"'} if kind == "heat_step" else {}
        made.append(entry(at=f"2026-10-{day:02d}", kind=f'"{kind}"', zone=zone, **values))
    return "\n".join(made)


def test_every_key_of_every_kind_has_its_words(site: Site) -> None:
    named = SITE.replace('name = "leveler"', 'name = "leveler"\npart = "shower side"')
    named = named.replace('name = "grout"', 'name = "screed"')
    site.path.write_text(named + examples(), encoding="utf-8")
    found = site.json("log job.toml")
    assert [row["said"] for row in found["entries"]] == IN_WORDS
    assert found["findings"] == []


def test_a_logger_s_readings_are_counted_in_words() -> None:
    at = datetime(2026, 10, 1, tzinfo=UTC)
    series = Series(
        id="e-1",
        at=at,
        recorded=at,
        place=Place.AIR,
        device="D 7",
        interval_s=900.0,
        points=((at, 20.0, 0.5), (at + timedelta(minutes=15), None, None)),
    )
    row = EntryRow("e-1", "readings", {}, series)
    told = entry_text(row, None, plain_words())
    assert told == "logger readings: device D 7, every 15 min, 2 readings"


def test_a_correction_stands_at_what_it_corrects(site: Site) -> None:
    fixed = entry(
        at="2026-10-04T09:00:00",
        kind='"correction"',
        id='"e-fix"',
        of='"e-1"',
        air='"66 °F"',
        zone='"loft"',
        by='"R. Example"',
    )
    with_log(site, fixed, air("e-1", "2026-10-03T09:00:00", zone='"hall"'))
    assert site.run("log job.toml") == (
        """\
Sat 3 Oct 2026
  09:00  air in hall: 64 °F
         e-1
         corrected Sun 4 Oct 2026, 09:00: zone loft, 66 °F (e-fix, R. Example)
"""
    )


def gone(name: str, of: str, at: str, **by: str) -> str:
    return entry(at=at, kind='"correction"', id=f'"{name}"', of=f'"{of}"', withdrawn="true", **by)


def test_what_is_withdrawn_is_marked(site: Site) -> None:
    first = air("e-1", "2026-10-03T09:00:00")
    with_log(site, first, gone("e-2", "e-1", "2026-10-04T09:00:00"))
    said = site.run("log job.toml")
    assert "  09:00  withdrawn: air: 64 °F\n" in said
    assert "\n         withdrawn Sun 4 Oct 2026, 09:00 (e-2)\n" in said
    (row,) = site.json("log job.toml")["entries"]
    assert (row["withdrawn"], row["corrections"][0]["withdraws"]) == (True, True)


def test_a_withdrawal_withdrawn_is_marked_and_the_entry_stands(site: Site) -> None:
    with_log(
        site,
        air("e-1", "2026-10-03T09:00:00"),
        gone("e-2", "e-1", "2026-10-04T09:00:00"),
        gone("e-3", "e-2", "2026-10-05T09:00:00"),
    )
    said = site.run("log job.toml")
    assert "  09:00  air: 64 °F\n" in said
    assert "withdrawn Sun 4 Oct 2026, 09:00 (e-2); that was withdrawn (e-3)" in said
    (row,) = site.json("log job.toml")["entries"]
    assert (row["withdrawn"], row["corrections"][0]["withdrawn_by"]) == (False, "e-3")
    earlier = site.json('log job.toml --as-of "2026-10-04 12:00"')["entries"]
    assert [each["withdrawn"] for each in earlier] == [True]


def test_the_log_as_it_stood(site: Site) -> None:
    late = air("e-2", "2026-10-03T10:00:00", recorded="2026-10-06T10:00:00")
    with_log(site, air("e-1", "2026-10-03T09:00:00"), late)
    both = [row["id"] for row in site.json("log job.toml")["entries"]]
    then = [row["id"] for row in site.json("log job.toml --as-of 2026-10-05")["entries"]]
    assert (both, then) == (["e-1", "e-2"], ["e-1"])


@pytest.mark.parametrize(
    ("asked", "ids"),
    [
        ("--zone hall", ["e-1", "e-3"]),
        ("--zone loft", ["e-2", "e-3"]),
        ("--kind air", ["e-1", "e-2"]),
        ("--kind air --zone loft", ["e-2"]),
        ("--kind photo", []),
    ],
)
def test_only_what_was_asked_for(site: Site, asked: str, ids: list[str]) -> None:
    every = entry(at="2026-10-03T11:00:00", kind='"note"', id='"e-3"', text='"x"')
    hall = air("e-1", "2026-10-03T09:00:00", zone='"hall"')
    with_log(site, hall, air("e-2", "2026-10-03T10:00:00", zone='"loft"'), every)
    assert [row["id"] for row in site.json(f"log job.toml {asked}")["entries"]] == ids


def test_an_empty_log_says_so(site: Site) -> None:
    assert site.run("log job.toml") == "The log has no entry.\n"
    said = site.run("log job.toml --kind photo --zone loft")
    assert said == "The log has no entry of kind photo in zone loft.\n"


@pytest.mark.parametrize(
    ("asked", "told"),
    [("--kind ari", '"air"?'), ("--zone hal", '"hall"?')],
)
def test_a_name_there_is_not_ends_with_2(site: Site, asked: str, told: str) -> None:
    assert site.run(f"log job.toml {asked}", code=2) == ""
    assert told in site.err


def test_an_entry_not_understood_is_shown_with_the_id_to_correct_it_by(site: Site) -> None:
    wrong = entry(at="2026-10-02", kind='"done"', layer='"levler"')
    with_log(site, wrong, air("e-1", "2026-10-03T09:00:00"))
    said = site.run("log job.toml", code=1)
    (row,) = [each for each in site.json("log job.toml", code=1)["entries"] if each["at"] is None]
    assert row["id"].startswith("e-")
    assert row["keys"] == {"layer": "levler"}
    assert f"  not readable: done: at 2026-10-02, layer levler\n         {row['id']}\n" in said
    assert '"leveler"?' in said


def test_keys_stand_in_machine_output_as_they_were_typed(site: Site) -> None:
    kept = entry(
        at="2026-10-03T09:00:00",
        kind='"kept"',
        id='"e-1"',
        above='"60 °F"',
        **{"from": "2026-10-01", "to": "2026-10-02T09:00:00-03:00"},
    )
    with_log(site, kept)
    (row,) = site.json("log job.toml")["entries"]
    assert row["keys"] == {
        "above": "60 °F",
        "from": "2026-10-01",
        "to": "2026-10-02T09:00:00-03:00",
    }
    assert row["said"] == (
        "room kept warm: at or above 60 °F, from Fri 2 Oct 2026, 00:00, to Fri 2 Oct 2026, 09:00"
    )


def test_names_that_would_play_tricks_on_a_terminal_are_shown_clean(site: Site) -> None:
    with_log(site, air("e-1", "2026-10-03T09:00:00", by='"R\\u200dX"'))
    said = site.run("log job.toml", code=1)
    assert "\u200d" not in said
    assert "e-1, RX\n" in said


def test_an_entry_not_understood_and_withdrawn_is_no_more_than_marked(site: Site) -> None:
    wrong = entry(at="2026-10-02", kind='"done"', id='"e-1"', layer='"levler"')
    with_log(site, wrong, gone("e-2", "e-1", "2026-10-04T09:00:00", by='"R. Example"'))
    assert site.run("log job.toml") == (
        """\
without a date
         withdrawn: not readable: done: at 2026-10-02, layer levler
         e-1
         withdrawn Sun 4 Oct 2026, 09:00 (e-2, R. Example)
"""
    )
