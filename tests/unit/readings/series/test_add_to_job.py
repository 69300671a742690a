"""Readings in a job: kept beside it, named in its log, counted while they are what was recorded."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from logger_samples import laid, read, simple, utc

from curecal.errors import SourceError, ValueRefused
from curecal.job_files import ReadJob, load_rules, read_job
from curecal.job_files.days_off import day_off_for
from curecal.planning.make_plan import make_plan
from curecal.planning.site_log.log_at_instant import Facts, facts_at
from curecal.readings.series.add_to_job import AddedChannel, Append, Destination, add_channel
from curecal.readings.series.stored_readings import decode_channel, encode_channel
from curecal.site_log_files.append import append_entry
from curecal.trade.site_log import Place, Remark, Series

JOB = Path(__file__).parents[4] / "examples" / "bathroom" / "job.toml"
NOW = utc("2026-12-24T12:00:00")
LATER = utc("2027-06-01T12:00:00")


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "site" / "job.toml"
    path.parent.mkdir()
    shutil.copy(JOB, path)
    return path


def planned(job: Path) -> list[str]:
    """The codes of what the plan finds."""
    read = read_job(job)
    assert read.job is not None
    day_off = day_off_for(read.job)
    plan = make_plan(read.job, read.log, LATER, rules=load_rules(), day_off=day_off)
    return [finding.code for finding in plan.findings]


def appender(job: Path) -> Append:
    def append(values: Mapping[str, object], last_look: Callable[[], None]) -> str:
        made = append_entry(
            job,
            "readings",
            values,
            at=NOW,
            by="Robin Mistral",
            recorded=NOW,
            zone="hall",
            check=lambda _path: last_look(),
        )
        return made.id

    return append


def put(
    job: Path,
    file: Path | str,
    *,
    place: Place = Place.AIR,
    start: datetime | None = None,
    end: datetime | None = None,
) -> AddedChannel:
    (channel,) = read(file).channels
    return add_channel(
        job,
        channel,
        Destination("hall", place, start, end),
        log=lambda: facts(job).entries,
        understood="…",
        append=appender(job),
    )


def correct(job: Path, of: str, **changes: object) -> str:
    values = {"of": of, **changes}
    return append_entry(job, "correction", values, at=LATER, recorded=LATER, by="Robin Mistral").id


def facts_of(job: Path, as_of: datetime) -> Facts:
    found = read_job(job)
    assert found.job is not None
    return facts_at(found.log, as_of, found.job.people)


def facts(job: Path) -> Facts:
    return facts_of(job, datetime.max.replace(tzinfo=UTC))


def series(job: Path) -> list[Series]:
    return list(facts(job).of(Series))


def found(read_in: ReadJob) -> list[tuple[str, str]]:
    return [
        (each.severity.value, each.code)
        for each in read_in.findings
        if each.code.startswith("readings")
    ]


def kept(job: Path) -> list[Path]:
    return sorted((job.parent / "job.readings").iterdir())


def test_readings_are_kept_beside_the_job_and_counted(job: Path) -> None:
    added = put(job, "shape_1.csv")
    assert (added.rows, added.new) == (60, 60)
    assert added.path in kept(job)
    assert added.path is not None
    first_lines = added.path.read_text(encoding="ascii").splitlines()[:2]
    assert first_lines == ["at,temperature_c,humidity", "2026-11-30T03:00:00Z,19.0,0.56"]
    (entry,) = series(job)
    assert (entry.id, entry.zone, entry.place) == (added.id, "hall", Place.AIR)
    assert (entry.device, entry.interval_s, len(entry.points)) == ("9900417", 900.0, 60)
    assert entry.points[0] == (utc("2026-11-30T03:00:00"), 19.0, 0.56)
    assert found(read_job(job)) == []


def test_the_same_file_again_changes_nothing(job: Path) -> None:
    put(job, "shape_1.csv")
    before = (job.read_bytes(), kept(job))
    again = put(job, "shape_1.csv")
    assert (again.id, again.path, again.new, again.rows) == (None, None, 0, 60)
    assert (job.read_bytes(), kept(job)) == before


def test_files_that_overlap_add_what_is_new(job: Path, tmp_path: Path) -> None:
    head, *rows = simple(count=100).splitlines()
    first = laid(tmp_path, "\n".join([head, *rows[:60]]) + "\n", "first.csv")
    second = laid(tmp_path, "\n".join([head, *rows[40:]]) + "\n", "second.csv")
    assert put(job, first).new == 60
    assert put(job, second).new == 40
    assert len({point for entry in series(job) for point in entry.points}) == 100
    assert found(read_job(job)) == []


def test_files_that_differ_at_an_instant_are_found(job: Path, tmp_path: Path) -> None:
    put(job, laid(tmp_path, simple(), "first.csv"))
    other = laid(tmp_path, simple().replace(",19.00,", ",17.00,"), "second.csv")
    assert put(job, other).id is not None
    assert found(read_job(job)) == [("warning", "readings-conflict")]


def test_a_jump_is_found_in_the_job_until_its_readings_are_limited(job: Path) -> None:
    added = put(job, "warm_van.csv")
    assert "reading-jumped" in planned(job)
    assert added.id is not None
    correct(job, added.id, **{"from": utc("2026-11-13T08:45:00")})
    assert "reading-jumped" not in planned(job)
    assert found(read_job(job)) == []
    (entry,) = series(job)
    assert (len(entry.points), entry.points[0][0]) == (81, utc("2026-11-13T08:45:00"))
    # What was known before the correction was all of it.
    (then,) = facts_of(job, LATER - timedelta(days=1)).of(Series)
    assert len(then.points) == 90


def test_corrections_of_both_ends_hold_together(job: Path) -> None:
    added = put(job, "warm_van.csv", start=utc("2026-11-13T08:45:00"))
    assert added.id is not None
    assert len(series(job)[0].points) == 81
    correct(job, added.id, until=utc("2026-11-13T12:00:00"))
    (entry,) = series(job)
    assert (entry.points[0][0].hour, entry.points[-1][0].hour, len(entry.points)) == (8, 12, 40)


def test_a_withdrawn_entry_counts_for_nothing_and_can_come_again(job: Path) -> None:
    added = put(job, "shape_1.csv")
    assert added.id is not None
    correct(job, added.id, withdrawn=True)
    assert (series(job), found(read_job(job))) == ([], [])
    # Until it was withdrawn it counted.
    (then,) = facts_of(job, LATER - timedelta(days=1)).of(Series)
    assert len(then.points) == 60
    assert put(job, "shape_1.csv").new == 60
    assert len(series(job)) == 1


def test_a_correction_of_the_file_is_refused(job: Path) -> None:
    added = put(job, "shape_1.csv")
    assert added.id is not None
    correct(job, added.id, file="other.csv")
    read_in = read_job(job)
    assert (found(read_in), read_in.job) == ([("error", "readings-corrected")], None)


def test_readings_that_were_changed_since_do_not_count(job: Path) -> None:
    added = put(job, "shape_1.csv")
    assert added.path is not None
    text = added.path.read_text(encoding="ascii")
    added.path.write_text(text.replace(",19.0,", ",21.0,"), encoding="ascii")
    read_in = read_job(job)
    assert found(read_in) == [("stop", "readings-hash-differs")]
    assert [entry for entry in read_in.log if isinstance(entry, Series)] == []
    (remark,) = (entry for entry in read_in.log if isinstance(entry, Remark))
    assert remark.file is not None
    assert type(remark) is Remark


def test_readings_that_are_gone_do_not_count(job: Path) -> None:
    added = put(job, "shape_1.csv")
    assert added.path is not None
    added.path.unlink()
    assert found(read_job(job)) == [("stop", "readings-file-missing")]


@pytest.mark.parametrize(
    "name", ["../other.csv", "/etc/hostname", "a/../../other.csv", "..\\other.csv", "C:other.csv"]
)
def test_a_file_outside_of_the_jobs_folder_is_not_opened(
    job: Path, name: str, tmp_path: Path
) -> None:
    laid(tmp_path, encode_channel(read("shape_1.csv").channels[0]), "other.csv")
    append_entry(job, "readings", {"file": name, "sha256": "00"}, at=NOW, recorded=NOW, zone="hall")
    assert found(read_job(job)) == [("stop", "readings-file-outside")]


def test_a_link_that_leads_outside_is_not_followed(job: Path, tmp_path: Path) -> None:
    target = laid(tmp_path, encode_channel(read("shape_1.csv").channels[0]), "other.csv")
    (job.parent / "link.csv").symlink_to(target)
    append_entry(
        job, "readings", {"file": "link.csv", "sha256": "00"}, at=NOW, recorded=NOW, zone="hall"
    )
    assert found(read_job(job)) == [("stop", "readings-file-outside")]


def test_a_file_without_its_hash_is_not_counted(job: Path) -> None:
    append_entry(job, "readings", {"file": "a.csv"}, at=NOW, recorded=NOW, zone="hall")
    assert found(read_job(job)) == [("stop", "readings-without-hash")]


def test_from_after_until_is_an_error(job: Path) -> None:
    added = put(job, "shape_1.csv", start=utc("2026-11-30T06:00:00"))
    assert added.id is not None
    correct(job, added.id, until=utc("2026-11-30T04:00:00"))
    assert found(read_job(job)) == [("error", "readings-window-reversed")]


def test_nothing_between_from_and_until_is_refused_and_found(job: Path) -> None:
    with pytest.raises(SourceError, match="readings-window-empty"):
        put(job, "shape_1.csv", start=utc("2026-12-30T06:00:00"))
    assert not (job.parent / "job.readings").exists()
    added = put(job, "shape_1.csv")
    assert added.id is not None
    correct(job, added.id, **{"from": utc("2026-12-30T06:00:00")})
    assert found(read_job(job)) == [("warning", "readings-nothing-left")]


def test_readings_that_no_entry_names_are_not_left_behind(job: Path) -> None:
    def refuse(_values: Mapping[str, object], _last_look: Callable[[], None]) -> str:
        raise ValueRefused("text-empty", key="file", example="", spare="")

    (channel,) = read("shape_1.csv").channels
    with pytest.raises(ValueRefused):
        add_channel(
            job,
            channel,
            Destination("hall", Place.AIR),
            log=tuple,
            understood="…",
            append=refuse,
        )
    assert not (job.parent / "job.readings").exists()


def test_kept_readings_come_back_as_they_were() -> None:
    (channel,) = read("no_reading.csv").channels
    data = encode_channel(channel)
    back = decode_channel(data, channel.device)
    assert encode_channel(back) == data
    assert back.at_s == channel.at_s


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"at,temperature_c,humidity\n",
        b"at,temperature_c,humidity\n2026-11-30T03:00:00Z,19.0,0.5",
        b"at,humidity,temperature_c\n2026-11-30T03:00:00Z,19.0,0.5\n",
        b"at,temperature_c,humidity\n2026-11-30 03:00:00Z,19.0,0.5\n",
        b"at,temperature_c,humidity\n2026-11-30T03:00:00Z,19.0\n",
        b"at,temperature_c,humidity\n2026-11-30T03:00:00Z,warm,0.5\n",
        b"at,temperature_c,humidity\n2026-11-30T03:00:00Z,nan,0.5\n",
        b"at,temperature_c,humidity\n2026-11-30T03:00:00Z,19.0,1.5\n",
        b"at,temperature_c,humidity\n2026-11-30T03:00:00Z,19,\n2026-11-30T03:00:00Z,19,\n",
        b"\xff\xfe",
    ],
)
def test_bytes_in_another_form_are_no_kept_readings(data: bytes) -> None:
    with pytest.raises(ValueError, match=r".*"):
        decode_channel(data, "x")


def test_a_floors_sensor_counts_until_somebody_saw_the_floor_on(job: Path) -> None:
    put(job, "shape_1.csv", place=Place.FLOOR)
    seen = utc("2026-11-30T06:00:00")
    values = {"floor": "20 °C", "heating": "on"}
    append_entry(job, "floor", values, at=seen, recorded=seen, zone="hall")
    assert found(read_job(job)) == [("caution", "readings-heating-on")]
    assert series(job)[0].points[-1][0] == seen


def test_a_floors_sensor_counts_until_the_floor_is_switched_on(job: Path) -> None:
    put(job, "shape_1.csv", place=Place.FLOOR)
    assert len(series(job)[0].points) == 60
    on = utc("2026-11-30T06:00:00")
    append_entry(job, "energized", {}, at=on, recorded=on, zone="hall")
    assert found(read_job(job)) == [("caution", "readings-heating-on")]
    assert series(job)[0].points[-1][0] == on
    early = utc("2026-11-29T06:00:00")
    append_entry(job, "energized", {}, at=early, recorded=early, zone="hall")
    assert len(series(job)[0].points) == 0


def test_a_job_of_any_name_finds_its_readings_again(job: Path) -> None:
    named = job.rename(job.with_name("hall: bath\\2.toml"))
    put(named, "shape_1.csv")
    assert (len(series(named)), found(read_job(named))) == (1, [])
