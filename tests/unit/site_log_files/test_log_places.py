"""What an entry is about is said or asked, never guessed; what is doubtful is a warning."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from file_samples import LOG, codes, read

from curecal.job_files import ReadJob
from curecal.trade.findings import Severity
from curecal.trade.site_log import Correction, Done, Inspection, Reading, Resistance
from curecal.words.report.report import refused_lines
from curecal.words.sentences import plain_words

LOFT = """
[[zone]]
name = "loft"
{heating}
[[zone.layer]]
name = "bed"
material = "thinset"
[[zone.layer]]
name = "joints"
material = "grout"
"""
ONE = '[zone.heating]\nvoltage = "240 V"\npower = "640 W"\nresistance = "90 Ω"\n'
TEST = LOG + 'kind = "resistance"\nstage = "laid"\nconductor = "90 Ω"\n'


def cables(*names: str) -> str:
    return "\n".join(f'[[zone.heating.cable]]\nname = "{name}"' for name in names)


def two(log: str, heating: str = "", loft: str = "") -> ReadJob:
    return read(heating=heating, more=LOFT.format(heating=loft) + log)


def said(found: ReadJob) -> str:
    """Return what a person reads, in one line."""
    lines = refused_lines(found.findings, found.raw, plain_words(), 400)
    return " ".join("".join(segment.text for segment in line).strip() for line in lines)


# ---- layers of several zones ------------------------------------------------------------------


@pytest.mark.parametrize(
    "entry",
    [
        'kind = "done"\nlayer = "bed"\n',
        'kind = "inspection"\nlayer = "bed"\nresult = "sound"\n',
        'kind = "moisture"\nlayer = "bed"\nvalue = "1.6 CM-%"\n',
        'kind = "test_points"\nlayer = "bed"\n',
    ],
)
def test_a_layer_that_several_zones_have_is_asked_for_its_zone(entry: str) -> None:
    found = two(LOG + entry)
    assert codes(found) == [("layer-in-several-zones", "log.0.layer")]
    assert found.job is None
    assert 'several zones have a layer "bed": hall, loft > Say which zone: zone = "hall".' in said(
        found
    )
    told = two(LOG + entry + 'zone = "loft"\n')
    assert [entry.zone for entry in told.log] == ["loft"]


def test_a_name_here_and_an_id_there_are_two_layers() -> None:
    more = '[[zone.layer]]\nid = "bed"\nname = "other"\nmaterial = "grout"\n'
    found = read(
        layer='id = "first"',
        more=f'[[zone]]\nname = "loft"\n{more}{LOG}kind = "done"\nlayer = "bed"',
    )
    assert codes(found) == [("layer-in-several-zones", "log.0.layer")]


def test_within_one_zone_an_id_comes_before_a_name() -> None:
    more = '[[zone.layer]]\nid = "x"\nname = "bed"\nmaterial = "grout"\n'
    found = read(layer='id = "bed"', more=more + LOG + 'kind = "done"\nlayer = "bed"')
    (done,) = found.log
    assert isinstance(done, Done)
    assert (done.layer, done.zone) == ("bed", "hall")


def test_an_inspection_never_clears_two_zones_by_accident() -> None:
    entry = LOG + 'kind = "inspection"\nresult = "passed"\n'
    found = two(entry)
    assert codes(found) == [("inspection-without-zone", "log.0")]
    assert found.job is None
    (told,) = two(entry + 'zone = "hall"\n').log
    assert isinstance(told, Inspection)
    assert told.zone == "hall"
    assert codes(read(more=entry)) == []


@pytest.mark.parametrize(
    "entry",
    [
        'kind = "release"\n',
        'kind = "protection"\ndevice = "GFCI"\n',
        'kind = "connected"\n',
        'kind = "thermostat"\nmode = "floor"\n',
    ],
)
def test_what_clears_every_zone_says_so(entry: str) -> None:
    found = two(LOG + entry)
    (finding,) = found.findings
    assert (finding.code, finding.severity) == ("entry-for-every-zone", Severity.CAUTION)
    assert finding.params["zones"] == "hall, loft"
    assert found.job is not None
    assert [entry.zone for entry in found.log] == [None]
    assert codes(two(LOG + entry + 'zone = "hall"\n')) == []
    assert codes(read(more=LOG + entry)) == []


def test_a_reading_of_the_air_is_of_the_whole_job() -> None:
    assert codes(two(LOG + 'kind = "air"\nair = "18 °C"\n')) == []


# ---- cables -----------------------------------------------------------------------------------


def test_the_only_cable_has_no_name() -> None:
    found = read(heating=ONE, more=TEST)
    assert found.job is not None
    assert [cable.name for cable in found.job.zones[0].heating.cables] == [""]
    (test,) = found.log
    assert isinstance(test, Resistance)
    assert (test.cable, test.zone) == (None, None)


@pytest.mark.parametrize("heating", [ONE, ""])
def test_a_name_where_no_cable_has_one_is_an_error(heating: str) -> None:
    found = read(heating=heating, more=TEST + 'cable = "mat"\n')
    assert codes(found) == [("cable-has-no-name", "log.0.cable")]
    assert found.job is None


def test_a_cable_there_is_not_names_those_there_are() -> None:
    found = read(heating=cables("cable A", "cable B"), more=TEST + 'cable = "cabel A"\n')
    assert codes(found) == [("cable-not-there", "log.0.cable")]
    assert (
        'there is no cable "cabel A". Did you mean "cable A"? > Cables there: cable A, cable B.'
        in said(found)
    )


def test_a_cable_of_another_zone_is_not_of_this_one() -> None:
    found = two(TEST + 'cable = "A"\nzone = "loft"\n', cables("A"), cables("B"))
    assert codes(found) == [("cable-not-there", "log.0.cable")]


def test_a_cable_gives_its_zone_and_two_of_a_name_are_asked() -> None:
    (test,) = two(TEST + 'cable = "B"\n', cables("A"), cables("B")).log
    assert isinstance(test, Resistance)
    assert (test.cable, test.zone) == ("B", "loft")
    found = two(TEST + 'cable = "A"\n', cables("A"), cables("A"))
    assert codes(found) == [("cable-in-several-zones", "log.0.cable")]
    (told,) = two(TEST + 'cable = "A"\nzone = "loft"\n', cables("A"), cables("A")).log
    assert told.zone == "loft"


def test_an_insulation_reading_that_is_none_shows_its_own_form() -> None:
    found = read(more=TEST + 'insulation = "lots"\n')
    assert codes(found) == [("quantity-unreadable", "log.0.insulation")]
    assert 'Write it like "> 2 GΩ".' in said(found)


# ---- corrections ------------------------------------------------------------------------------


def test_a_corrected_zone_takes_the_layer_along() -> None:
    entry = LOG + 'id = "e"\nkind = "done"\nlayer = "bed"\nzone = "hall"\n'
    fix = LOG + 'kind = "correction"\nof = "e"\n'
    (_, moved) = two(entry + fix + 'zone = "loft"\n').log
    assert isinstance(moved, Correction)
    assert dict(moved.changes) == {"layer": "bed", "zone": "loft"}
    other = entry.replace('"bed"', '"joints"').replace("hall", "loft")
    found = two(other + fix + 'zone = "hall"\n')
    assert codes(found) == [("layer-not-there", "log.1.layer")]


def test_a_corrected_layer_takes_its_zone_along() -> None:
    entry = LOG + 'id = "e"\nkind = "done"\nlayer = "joints"\n'
    fix = LOG + 'kind = "correction"\nof = "e"\nlayer = "sub"\n'
    found = read(
        more='[[zone.layer]]\nname = "sub"\nmaterial = "grout"\n'
        + LOFT.format(heating="")
        + entry
        + fix
    )
    (_, moved) = found.log
    assert isinstance(moved, Correction)
    assert dict(moved.changes) == {"layer": "sub", "zone": "hall"}


def test_a_corrected_cable_is_one_there_is() -> None:
    entry = LOG + 'id = "e"\nkind = "resistance"\nstage = "laid"\nzone = "hall"\ncable = "A"\n'
    fix = LOG + 'kind = "correction"\nof = "e"\ncable = "{}"\n'
    (_, moved) = two(entry + fix.format("B"), cables("A", "B"), cables("A", "B")).log
    assert isinstance(moved, Correction)
    assert dict(moved.changes) == {"cable": "B", "zone": "hall"}
    found = two(entry + fix.format("C"), cables("A", "B"), cables("A", "B"))
    assert codes(found) == [("cable-not-there", "log.1.cable")]


# ---- what was there before --------------------------------------------------------------------


def test_what_was_there_before_is_not_done_again() -> None:
    found = read(layer="existing = true", more=LOG + 'kind = "done"\nlayer = "bed"\n')
    assert codes(found) == [("existing-with-work", "log.0.layer")]
    assert codes(read(layer="existing = true\nrepair = false")) == []
    sound = LOG + 'kind = "inspection"\nlayer = "bed"\nresult = "sound"\n'
    assert codes(read(layer="existing = true", more=sound)) == []


# ---- doubts that are said, and do not stop ----------------------------------------------------


@pytest.mark.parametrize("form", ["2026-11-01T01:30:00", '"2026-11-01 01:30"'])
def test_of_a_time_the_clock_shows_twice_the_later_counts(form: str) -> None:
    found = read(layer=f"done = {form}")
    (finding,) = found.findings
    assert (finding.code, finding.severity) == ("instant-twice", Severity.WARNING)
    assert finding.path == "zone.0.layer.0.done"
    assert finding.params["first"] == "2026-11-01 01:30-03:00"
    assert finding.params["second"] == "2026-11-01 01:30-04:00"
    assert found.job is not None
    # Halifax leaves summer time at 02:00: 01:30 is 04:30 and 05:30 UTC.
    assert found.job.zones[0].layers[0].done_at == datetime(2026, 11, 1, 5, 30, tzinfo=UTC)
    first = read(layer="done = 2026-11-01T01:30:00-03:00")
    assert first.findings == ()
    assert first.job is not None
    assert first.job.zones[0].layers[0].done_at == datetime(2026, 11, 1, 4, 30, tzinfo=UTC)


def test_a_reading_in_the_hour_that_comes_twice_counts_too() -> None:
    found = read(more='[[log]]\nat = 2026-11-01T01:30:00\nkind = "air"\nair = "18 °C"\n')
    assert codes(found) == [("instant-twice", "log.0.at")]
    (entry,) = found.log
    assert isinstance(entry, Reading)
    assert entry.at == datetime(2026, 11, 1, 5, 30, tzinfo=UTC)


def test_a_language_without_texts_is_said_and_counts_as_none() -> None:
    found = read(job='language = "tlh"', top='[people.crew_lead]\nname = "R"\nlanguage = "eo"\n')
    assert codes(found) == [
        ("language-not-there", "job.language"),
        ("language-not-there", "people.crew_lead.0.language"),
    ]
    assert {finding.severity for finding in found.findings} == {Severity.WARNING}
    assert found.job is not None
    assert found.job.language == "en"
    # Else somebody on a German job would read English for a slip in their own language.
    assert found.job.people[0].language is None
    assert 'curecal does not speak "eo" yet; it counts as not given > Languages: de, en' in said(
        found
    )


@pytest.mark.parametrize("tag", ["de", "DE", "de-AT", "de-Latn-CH"])
def test_a_language_is_found_by_its_tag(tag: str) -> None:
    # RFC 5646, 2.1.1: letters of both sizes are alike; RFC 4647, 3.4: lookup drops what follows.
    found = read(job=f'language = "{tag}"')
    assert codes(found) == []
    assert found.job is not None
    assert found.job.language == "de"
