"""Corrections of entries that are not readable without them."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from append_samples import JOB

from curecal.job_files import ReadJob, parse_job, read_job
from curecal.site_log_files.corrections import as_corrected, is_withdrawn
from curecal.trade.findings import Severity
from curecal.trade.site_log import Correction, Done

WRONG = '[[log]]\nid = "e-1"\nat = 2026-11-01T12:00:00Z\nkind = "done"\nlayer = "bad"\n'


LEAD, SPARK, OWNER = "Robin Lead", "Sam Spark", "Kim Owner"
PEOPLE = (
    f'[people]\ncrew_lead = {{ name = "{LEAD}", until = 2026-11-20 }}\n'
    f'electrician = {{ name = "{SPARK}" }}\nowner = {{ name = "{OWNER}" }}\n'
)


def correction(name: str, of: str, keys: str, day: int, by: str = LEAD) -> str:
    return (
        f'[[log]]\nid = "{name}"\nat = 2026-11-{day:02d}T12:00:00Z\n'
        f'kind = "correction"\nof = "{of}"\nby = "{by}"\n{keys}\n'
    )


def read(*parts: str) -> ReadJob:
    return parse_job("\n".join([JOB, PEOPLE, *parts]).encode())


def errors(found: ReadJob) -> list[tuple[str, str]]:
    return [(f.code, f.path) for f in found.findings if f.severity is Severity.ERROR]


def done(found: ReadJob) -> list[Done]:
    return [entry for entry in found.log if isinstance(entry, Done)]


FIX = correction("e-2", "e-1", 'layer = "bed"', 2)
GONE = correction("e-3", "e-1", "withdrawn = true", 3)


def test_a_wrong_name_is_an_error_until_it_is_corrected() -> None:
    assert errors(read(WRONG)) == [("layer-not-there", "log.0.layer")]
    assert errors(read(WRONG, FIX)) == []


@pytest.mark.parametrize("parts", [(WRONG, FIX), (FIX, WRONG)])
def test_it_is_a_fact_from_when_it_was_corrected(parts: tuple[str, ...]) -> None:
    (entry,) = done(read(*parts))
    assert entry.layer == read(WRONG, FIX).job.zones[0].layers[0].id  # type: ignore[union-attr]
    assert entry.at == datetime(2026, 11, 1, 12, tzinfo=UTC)
    assert entry.recorded == datetime(2026, 11, 2, 12, tzinfo=UTC)


def test_an_entry_that_is_understood_keeps_when_it_was_recorded() -> None:
    (entry,) = done(read(WRONG.replace("bad", "bed"), correction("e-2", "e-1", 'lot = "L"', 2)))
    assert (entry.recorded, entry.lot) == (datetime(2026, 11, 1, 12, tzinfo=UTC), None)


def test_the_first_correction_that_makes_it_a_fact_counts() -> None:
    wrong_still = correction("e-2", "e-1", 'lot = "L"', 2)
    right = correction("e-4", "e-1", 'layer = "bed"', 4)
    later = correction("e-5", "e-1", 'lot = "M"', 5)
    found = read(WRONG, later, right, wrong_still)
    (entry,) = done(found)
    assert errors(found) == []
    assert (entry.recorded.day, entry.lot) == (4, "L")
    assert sum(isinstance(each, Correction) for each in found.log) == 3


def test_a_withdrawn_entry_is_no_error_and_no_fact() -> None:
    found = read(WRONG, GONE)
    assert (errors(found), done(found)) == ([], [])


@pytest.mark.parametrize(
    ("kind", "keys", "may"),
    [
        ("done", 'layer = "bad"', {LEAD}),
        ("stopped", 'cause = "it tripped"', {SPARK}),
        ("resistance", 'stage = "laid"\ninsulation = "0,,2"', {SPARK}),
        ("inspection", 'zone = "hall"\nresult = "failled"', {LEAD}),
    ],
)
def test_what_cannot_be_read_is_taken_back_by_who_may_lift_it(
    kind: str, keys: str, may: set[str]
) -> None:
    wrong = f'[[log]]\nid = "e-1"\nat = 2026-11-01T12:00:00Z\nkind = "{kind}"\n{keys}\n'
    for by in (LEAD, SPARK, OWNER, "Max", " "):
        found = read(wrong, correction("e-3", "e-1", "withdrawn = true", 3, by))
        taken_back = errors(found) == []
        assert taken_back is (by in may), by
        said = [finding for finding in found.findings if finding.code == "mend-wants-role"]
        assert [finding.path for finding in said] == ([] if by in may else ["log.1"])


def test_a_strangers_correction_of_what_cannot_be_read_makes_no_test_of_another() -> None:
    wrong = (
        '[[log]]\nid = "e-1"\nat = 2026-11-01T12:00:00Z\nkind = "resistance"\nstage = "laid"\n'
        f'insulation = "0,,2"\nby = "{SPARK}"\n'
    )
    good = 'insulation = "550 MΩ"'
    assert errors(read(wrong, correction("e-2", "e-1", good, 2, SPARK))) == []
    assert ("quantity-unreadable", "log.0.insulation") in errors(
        read(wrong, correction("e-2", "e-1", good, 2, "Max"))
    )


def test_who_has_left_takes_nothing_back() -> None:
    assert errors(read(WRONG, correction("e-3", "e-1", "withdrawn = true", 19))) == []
    gone = read(WRONG, correction("e-3", "e-1", "withdrawn = true", 22))
    assert errors(gone) == [("layer-not-there", "log.0.layer"), ("mend-wants-role", "log.1")]


def test_a_strangers_correction_is_no_error_once_somebody_mended_the_entry() -> None:
    by_max = correction("e-4", "e-1", 'layer = "bed"', 4, "Max")
    assert ("mend-wants-role", "log.1") in errors(read(WRONG, by_max))
    assert errors(read(WRONG, by_max, FIX)) == []


def test_a_withdrawal_withdrawn_brings_the_error_back() -> None:
    back = correction("e-4", "e-3", "withdrawn = true", 4)
    assert errors(read(WRONG, GONE, back)) == [("layer-not-there", "log.0.layer")]
    again = correction("e-5", "e-4", "withdrawn = true", 5)
    assert errors(read(WRONG, GONE, back, again)) == []


def test_a_correction_withdrawn_brings_the_error_back() -> None:
    back = correction("e-4", "e-2", "withdrawn = true", 4)
    assert errors(read(WRONG, FIX, back)) == [("layer-not-there", "log.0.layer")]


def test_a_correction_that_is_wrong_itself_mends_nothing() -> None:
    found = read(WRONG, correction("e-2", "e-1", 'layer = "worse"', 2))
    assert {("layer-not-there", f"log.{index}.layer") for index in (0, 1)} <= set(errors(found))


@pytest.mark.parametrize(
    "keys",
    ['of = ["e-1"]\nwithdrawn = true', "of = 3\nwithdrawn = true", "withdrawn = true"],
)
def test_a_correction_of_nothing_withdraws_nothing(keys: str) -> None:
    odd = f'[[log]]\nid = "e-2"\nat = 2026-11-02T12:00:00Z\nkind = "correction"\n{keys}\n'
    assert ("layer-not-there", "log.0.layer") in errors(read(WRONG, odd))


def test_a_correction_without_a_time_is_last_and_said_at_its_own_place() -> None:
    odd = FIX.replace("at = 2026-11-02T12:00:00Z", 'at = "soon"')
    assert ("instant-unreadable", "log.1.at") in errors(read(WRONG, odd))


def test_an_entry_of_a_further_log_is_corrected_from_the_job(tmp_path: Path) -> None:

    job, log = tmp_path / "job.toml", tmp_path / "log.toml"
    job.write_text(JOB + PEOPLE + FIX, encoding="utf-8")
    log.write_text(WRONG, encoding="utf-8")
    found = read_job(job, extra_log=[log])
    assert (errors(found), len(done(found))) == ([], 1)


def test_the_tables_as_corrected() -> None:
    at = datetime(2026, 11, 1, tzinfo=UTC)
    log = {
        "a": {"id": "a", "at": at, "kind": "air", "air": "1 °C", "by": "X"},
        "b": {"id": "b", "at": at, "kind": "correction", "of": "a", "air": "2 °C", "by": "Y"},
        "c": {"id": "c", "at": at, "kind": "correction", "of": "a", "zone": "hall"},
    }
    first, second = as_corrected("a", log, UTC)
    assert first == log["a"] | {"air": "2 °C", "recorded": at}
    assert second == first | {"zone": "hall"}
    assert not is_withdrawn("a", log, UTC)
    assert list(as_corrected("b", log, UTC)) == []
