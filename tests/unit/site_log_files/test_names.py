"""Names in log entries, compared as people read them."""

from __future__ import annotations

import unicodedata

import pytest

from curecal.job_files import parse_job
from curecal.site_log_files.names import named, zone_named
from curecal.trade.names import comparable_name
from curecal.trade.site_log import Done, Resistance

JOB = """\
[job]
id = "j"
name = "Alder Lane"
timezone = "America/Halifax"
[expected]
below = "heated room"
air = "19 °C"
[people.crew_lead]
name = "Zoë Mistral"
[people.owner]
name = "Ida Fennell"
[[zone]]
id = "h1"
name = "Hall Café"
[[zone.heating.cable]]
name = "Mat by the door"
[[zone.layer]]
id = "lev"
name = "Leveler"
part = "shower side"
material = "cement leveler"
thickness = "6 mm"
[[zone.layer]]
id = "lev-2"
name = "Leveler"
part = "Window side"
material = "cement leveler"
thickness = "6 mm"
"""
AT = "at = 2026-10-01T12:00:00\n"


def log_of(*tables: str, job: str = JOB) -> tuple[object, ...]:
    read = parse_job((job + "".join(f"[[log]]\n{AT}{each}\n" for each in tables)).encode())
    assert [found.code for found in read.findings if found.path.startswith("log")] == []
    return read.log


@pytest.mark.parametrize(
    "by",
    ["Zoë Mistral", unicodedata.normalize("NFD", "Zoë Mistral"), "zoë  MISTRAL", " Zoë Mistral"],
)
def test_a_signature_that_reads_the_same_is_the_same_person(by: str) -> None:
    (entry,) = log_of(f'kind = "release"\nby = "{by}"')
    assert entry.by == "Zoë Mistral"  # type: ignore[attr-defined]


@pytest.mark.parametrize("by", ["Zoe Mistral", "Z. Mistral", "Zoë"])
def test_another_signature_stays_as_it_is(by: str) -> None:
    (entry,) = log_of(f'kind = "release"\nby = "{by}"')
    assert entry.by == by  # type: ignore[attr-defined]


def test_where_two_people_read_alike_a_signature_is_taken_letter_by_letter() -> None:
    job = JOB.replace('name = "Ida Fennell"', 'name = "ZOË MISTRAL"')
    owner, neither = log_of(
        'kind = "release"\nby = "ZOË MISTRAL"', 'kind = "release"\nby = "zoë mistral"', job=job
    )
    assert owner.by == "ZOË MISTRAL"  # type: ignore[attr-defined]
    assert neither.by == "zoë mistral"  # type: ignore[attr-defined]


def test_zones_layers_parts_and_cables_are_found_as_people_read_them() -> None:
    zone = unicodedata.normalize("NFD", "hall café")
    done, test = log_of(
        f'kind = "done"\nzone = "{zone}"\nlayer = "LEVELER"\npart = "window  side"',
        'kind = "resistance"\nstage = "laid"\ncable = "mat by the DOOR"',
    )
    assert isinstance(done, Done)
    assert (done.zone, done.layer, done.part) == ("h1", "lev-2", "Window side")
    assert isinstance(test, Resistance)
    assert (test.zone, test.cable) == ("h1", "Mat by the door")


def test_letter_by_letter_comes_first_and_a_name_of_two_is_none() -> None:
    names = ["Bath", "bath", "BATH "]
    assert named("bath", names, lambda name: (name,)) == ["bath"]
    assert named("bATH", names, lambda name: (name,)) == names
    job = JOB + '[[zone]]\nid = "h2"\nname = "loft"\n'
    zones = parse_job(job.encode()).job
    assert zones is None  # a zone without layers is refused; the one before it stands
    read = parse_job(JOB.encode()).job
    assert read is not None
    (zone,) = read.zones
    assert zone_named("H1", [zone]) is zone
    assert zone_named("H1", [zone, zone]) is None
    assert zone_named("attic", [zone]) is None


def test_alike_is_the_same_however_often() -> None:
    for text in ("İstanbul  Straße", "ǰ", "a\u0345\u0301"):
        assert comparable_name(comparable_name(text)) == comparable_name(text)
        assert comparable_name(unicodedata.normalize("NFD", text)) == comparable_name(text)
