"""`note`: what an entry did to dates and hold points, and what it left open."""

from __future__ import annotations

from pathlib import Path

import pytest
import tomli
from freezegun import freeze_time
from note_samples import HALL, HEAD, Site

JOB = f"""\
{HEAD}[people.crew_lead]
name = "Robin Example"
[people.electrician]
name = "Sam"
license = "E 2"
[people.crew]
name = "Lee"
{HALL}[[zone.layer]]
name = "grout"
material = "cement grout"
planned_finish = 2090-10-05T12:00:00
"""


@pytest.fixture
def site(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Site:
    made = Site(tmp_path, monkeypatch, capsys)
    made.path.write_text(JOB, encoding="utf-8")
    return made


def flat(text: str) -> str:
    return " ".join(text.split())


def test_an_entry_that_changes_nothing_says_so(site: Site) -> None:
    said = site.run('note job.toml air "air=70 °F" --zone hall')
    assert "\nNo date changes, and nothing on the to-do list.\n" in said


def test_what_is_only_kept_is_not_said_to_change_nothing(site: Site) -> None:
    assert "changes by it" not in site.run("note job.toml note text=hello")


def test_a_hold_point_that_is_met_is_named(site: Site) -> None:
    said = site.run('note job.toml thermostat mode=floor "limit=80 °F" --zone hall --by Sam')
    assert "thermostat on floor sensor, limit set: done (was to do)." in flat(said)
    assert "changes by it" not in said


def test_what_an_entry_leaves_open_is_said_with_its_reason(site: Site) -> None:
    test = 'resistance stage=laid "conductor=90 Ω" --zone hall --by Sam'
    said = flat(site.run(f"note job.toml {test}"))
    assert "- Still to do: cable test after laying (before covering the cable): " in said
    assert "cable test on delivery" not in said
    found = site.json(f"note job.toml {test}")
    assert [hold["code"] for hold in found["outstanding"]] == ["test-after-laying"]
    assert found["outstanding"][0]["state"] == "unmet"


def test_what_failed_comes_first_and_is_not_called_outstanding(site: Site) -> None:
    trip = 'protection device=GFCI "trip_test=did not trip" --zone hall --by Sam'
    said = flat(site.run(f"note job.toml {trip}"))
    assert "- FAILED: GFCI with a trip test (before switching on): " in said
    assert "outstanding: FAILED" not in said


def test_a_reason_that_is_a_finding_is_said_once(site: Site) -> None:
    done = JOB.replace("planned_finish = 2090-10-05", "done = 2026-10-05")
    site.path.write_text(done, encoding="utf-8")
    said = flat(site.run('note job.toml release --by "robin EXAMPLE"'))
    assert said.count("does not count") == 1
    assert "changes by it" not in said


def test_a_date_that_moved_is_said_to_the_minute(site: Site) -> None:
    site.path.write_text(JOB.replace("planned_finish = 2090", "done = 2026"), encoding="utf-8")
    said = flat(site.run('note job.toml air "air=52 °F" --zone hall --at "2026-10-06 08:00"'))
    assert "- hall: " in said
    assert " later, " in said


@pytest.mark.parametrize("key", ["at=2026-10-27T10:00", "--at 2026-10-27T10:00", "by=Lee"])
def test_neither_time_nor_person_is_corrected(site: Site, key: str) -> None:
    made = site.note('surface "surface=64 °F" --zone hall --by Sam')
    before = site.text
    site.run(f'note job.toml correction of={made} "surface=60 °F" {key}', code=2)
    assert "A correction cannot change" in site.err
    assert "Withdraw the entry" in site.err
    assert site.text == before
    site.note(f'correction of={made} "surface=60 °F" --by Lee')
    assert tomli.loads(site.text)["log"][-1]["by"] == "Lee"


def test_a_correction_dated_before_its_entry_is_found(site: Site) -> None:
    log = (
        '[[log]]\nid = "a"\nat = 2026-10-06T08:00:00\nkind = "air"\nair = "64 °F"\n'
        '[[log]]\nid = "c"\nat = {at}\nkind = "correction"\nof = "a"\nair = "60 °F"\n'
    )
    for at, codes in (
        ("2026-10-05T08:00:00", ["correction-before-entry"]),
        ("2026-10-06T08:00:00", []),
    ):
        site.path.write_text(JOB + log.replace("{at}", at), encoding="utf-8")
        assert [each["code"] for each in site.json("log job.toml")["findings"]] == codes
    days = log.replace("2026-10-06T08:00:00", "2026-10-06").replace("{at}", "2026-10-06T09:00:00")
    site.path.write_text(JOB + days, encoding="utf-8")
    assert site.json("log job.toml")["findings"] == []


def test_heating_on_off_and_not_said_are_three(site: Site) -> None:
    for said, told in (("heating=on", ", heating on"), ("heating=off", ", heating off"), ("", "")):
        line = f'note job.toml floor "floor=82 °F" {said} --zone hall --at "2026-10-01 08:00"'
        found = site.json(line)
        assert found["entry"]["said"] == f"floor sensor in hall: 82 °F{told}"
        site.path.write_text(JOB, encoding="utf-8")


def test_an_entry_of_a_job_with_an_error_is_shown_in_the_job_s_units(site: Site) -> None:
    site.path.write_text(JOB.replace('code = "NEC"', 'codes = "NEC"'), encoding="utf-8")
    said = site.run('note job.toml air "air=64 °F" --zone hall')
    assert "air in hall: 64 °F" in said
    site.path.write_text(JOB.replace('"imperial"', '"cubits"'), encoding="utf-8")
    assert "17.8 °C" in site.run('note job.toml air "air=64 °F" --zone hall')


def test_the_zone_asked_for_is_found_as_people_read_it(site: Site) -> None:
    site.note('air "air=64 °F" --zone HALL')
    assert len(site.json("log job.toml --zone Hall")["entries"]) == 1


@freeze_time("2026-11-20T12:00:00Z")
def test_a_stop_is_not_said_twice_and_at_the_minute_of_its_entry(site: Site) -> None:
    stop = "[[log]]\nat = 2026-10-06T08:00:31\nkind = 'stopped'\ncause = 'smell or heat'\n"
    stop += "reason = 'smoke'\n"
    site.path.write_text(JOB + stop, encoding="utf-8")
    said = site.run("note job.toml note text=seen")
    assert "No: stopped Tue 6 Oct, 08:00: smell or heat (smoke)." in flat(said)


def test_where_only_a_layer_s_dates_move_that_is_said(site: Site) -> None:
    bed = '[[zone.layer]]\nname = "bed"\nmaterial = "thinset"\ndone = 2026-10-01T12:00:00\n'
    at = JOB.index('[[zone.layer]]\nname = "grout"')
    site.path.write_text(JOB[:at] + bed + JOB[at:], encoding="utf-8")
    said = flat(site.run('note job.toml air "air=55 °F" --zone hall --at "2026-10-02 08:00"'))
    assert "layer dates move; the date to switch on does not." in said
    assert "changes by it" not in said
