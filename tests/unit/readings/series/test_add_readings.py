"""Adding readings to a job: nothing twice, nothing half, and no logger in two places."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Mapping
from concurrent.futures import Future, ThreadPoolExecutor, wait
from datetime import UTC, datetime
from pathlib import Path

import pytest
from append_samples import open_folder
from logger_samples import FOLDER, laid, read, simple, utc
from test_add_to_job import NOW, appender, correct, facts, found, kept, put, series
from test_readings_command import Said, job, run

from curecal.cli.main import code_of_run
from curecal.errors import SourceError
from curecal.job_files import read_job
from curecal.readings.series.add_to_job import AddedChannel, Destination, add_channel
from curecal.readings.series.same_device import have_same_readings
from curecal.site_log_files.append import append_entry
from curecal.trade.logged_points import LoggedPoints
from curecal.trade.site_log import Place

__all__ = ["job", "run"]

Run = Callable[..., Said]


# ---- one logger is in one place ---------------------------------------------------------------


def test_the_same_readings_are_not_taken_as_another_places(job: Path) -> None:
    first = put(job, "shape_1.csv")
    before = (job.read_bytes(), kept(job))
    with pytest.raises(SourceError, match="readings-place-twice") as refused:
        put(job, "shape_1.csv", place=Place.SURFACE)
    assert refused.value.params["entry_id"] == first.id
    assert (job.read_bytes(), kept(job)) == before
    assert first.id is not None
    correct(job, first.id, withdrawn=True)
    assert put(job, "shape_1.csv", place=Place.SURFACE).new == 60
    assert found(read_job(job)) == []


def test_a_logger_that_was_moved_was_in_two_places_one_after_another(job: Path) -> None:
    moved = utc("2026-11-30T09:00:00")
    assert put(job, "shape_1.csv", end=moved).new == 25
    assert put(job, "shape_1.csv", place=Place.SURFACE, start=moved).new == 36
    assert found(read_job(job)) == []
    assert {entry.place for entry in series(job)} == {Place.AIR, Place.SURFACE}


def test_two_loggers_without_names_are_two(job: Path, tmp_path: Path) -> None:
    put(job, laid(tmp_path, simple(), "air.csv"))
    rows = simple().replace(",19.00,", ",18.00,").replace(",1", ",0")
    assert put(job, laid(tmp_path, rows, "floor.csv"), place=Place.SURFACE).new == 60
    assert found(read_job(job)) == []


def test_readings_of_two_places_stop_a_job_that_has_them(job: Path) -> None:
    added = put(job, "shape_1.csv")
    text = job.read_text(encoding="utf-8")
    entry = text[text.index("[[log]]\n", text.index(str(added.id)) - 200) :]
    again = entry.replace(str(added.id), "e-again").replace('"air"', '"surface"')
    job.write_text(f"{text}\n{again}", encoding="utf-8")
    assert found(read_job(job)) == [("stop", "readings-place-twice")]
    correct(job, "e-again", withdrawn=True)
    assert found(read_job(job)) == []


def test_a_room_of_two_zones_has_one_air(job: Path) -> None:
    (channel,) = read("shape_1.csv").channels
    for zone in ("hall", "bath"):
        added = add_channel(
            job,
            channel,
            Destination(zone, Place.AIR),
            log=lambda: facts(job).entries,
            understood="…",
            append=appender(job),
        )
        assert added.new == 60


def test_a_shared_instant_or_few_like_readings_are_no_proof() -> None:
    told = [(utc(f"2026-11-05T0{hour}:00:00"), 15.0, None) for hour in range(6)]
    points = LoggedPoints.of(told)
    assert have_same_readings(points, points[:2])
    assert not have_same_readings(points, points[:1])
    other = LoggedPoints.of([(at, 15.0 if at.hour < 3 else 14.0, None) for at, _, _ in told])
    assert not have_same_readings(points, other)


# ---- from when to when ------------------------------------------------------------------------


def test_less_of_what_counts_already_is_refused_with_the_correction(job: Path) -> None:
    added = put(job, "warm_van.csv")
    start = utc("2026-11-13T08:45:00")
    before = job.read_bytes()
    with pytest.raises(SourceError, match="readings-window-wider") as refused:
        put(job, "warm_van.csv", start=start)
    assert refused.value.params["entry_id"] == added.id
    assert refused.value.params["changes"] == '"from=2026-11-13 08:45:00+00:00"'
    assert job.read_bytes() == before
    assert added.id is not None
    correct(job, added.id, **{"from": start})
    assert put(job, "warm_van.csv", start=start).new == 0


@pytest.mark.parametrize(("minute", "new"), [(0, 48), (15, 47), (30, 46)])
def test_two_parts_of_one_file_go_in_and_in_again(job: Path, minute: int, new: int) -> None:
    first = utc("2026-11-30T06:00:00")
    second = utc(f"2026-11-30T06:{minute:02}:00")
    assert put(job, "shape_1.csv", end=first).new == 13
    # The reading that both have is not new.
    assert put(job, "shape_1.csv", start=second).new == new - (minute == 0)
    assert put(job, "shape_1.csv", start=second).new == 0
    assert put(job, "shape_1.csv", end=first).new == 0


def test_the_correction_that_is_named_is_one_that_counts(run: Run, job: Path) -> None:
    assert run(FOLDER / "warm_van.csv", "--into", job, "--by", "Robin Mistral").code == 0
    said = run(FOLDER / "warm_van.csv", "--into", job, "--from", "2026-11-13 05:00")
    assert (said.code, said.out) == (3, said.out)
    told = said.err.partition("Correct it: curecal note ")[2].strip().rstrip(".")
    path, kind, of, change = told.split(" ", 3)
    assert path == str(job)
    assert code_of_run(["note", path, kind, of, change.strip('"'), "--by", "Robin Mistral"]) == 0
    again = run(FOLDER / "warm_van.csv", "--into", job, "--from", "2026-11-13 05:00")
    assert again.code == 0
    assert "Nothing added" in again.out


# ---- whole or not at all ----------------------------------------------------------------------


def refuse(_values: Mapping[str, object], _last_look: Callable[[], None]) -> str:
    raise SourceError("file-not-written", path="job.toml", reason="No space left on device")


def failing(job: Path, name: str) -> None:
    (channel,) = read(name).channels
    with pytest.raises(SourceError, match="file-not-written"):
        add_channel(
            job, channel, Destination("hall", Place.AIR), log=tuple, understood="…", append=refuse
        )


def test_a_file_that_an_entry_names_stays_when_adding_fails(job: Path) -> None:
    added = put(job, "shape_1.csv")
    assert added.path is not None
    whole = added.path.read_bytes()
    failing(job, "shape_1.csv")
    assert added.path.read_bytes() == whole
    changed = whole.replace(b",19.0,", b",21.0,")
    added.path.write_bytes(changed)
    failing(job, "shape_1.csv")
    assert added.path.read_bytes() == changed


def test_another_file_in_the_folder_stays_when_adding_fails(job: Path) -> None:
    added = put(job, "shape_1.csv")
    failing(job, "warm_van.csv")
    assert kept(job) == [added.path]


def test_what_another_added_meanwhile_is_not_added_again(job: Path) -> None:
    (channel,) = read("shape_1.csv").channels
    own = appender(job)
    others: list[AddedChannel] = []

    def later(values: Mapping[str, object], last_look: Callable[[], None]) -> str:
        others.append(put(job, "shape_1.csv"))
        return own(values, last_look)

    added = add_channel(
        job,
        channel,
        Destination("hall", Place.AIR),
        log=lambda: facts(job).entries,
        understood="…",
        append=later,
    )
    assert (added.new, added.id) == (0, None)
    assert [entry.id for entry in series(job)] == [others[0].id]
    assert kept(job) == [others[0].path]
    assert found(read_job(job)) == []


def test_who_is_refused_takes_no_readings_from_who_adds_the_same(
    job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    unlink, others = Path.unlink, ThreadPoolExecutor(1)
    adding: list[Future[AddedChannel]] = []

    def unlinked(path: Path, *, missing_ok: bool = False) -> None:
        if path.suffix == ".csv" and not adding:
            adding.append(others.submit(put, job, "shape_1.csv"))
            # Somebody else has all the time it takes, if nothing keeps them waiting.
            wait(adding, timeout=1.0)
        unlink(path, missing_ok=missing_ok)

    monkeypatch.setattr(Path, "unlink", unlinked)
    failing(job, "shape_1.csv")
    (added,) = (one.result(60) for one in adding)
    others.shutdown()
    assert kept(job) == [added.path]
    assert found(read_job(job)) == []


def as_nobody(act: Callable[[], object]) -> str:
    """Do something with nobody's rights, in a process of its own; return the refusal's code."""
    theirs, ours = os.pipe()
    child = os.fork()
    if child == 0:
        code = "none"
        try:
            if os.geteuid() == 0:
                os.setgroups([])
                os.setgid(65534)
                os.setuid(65534)
            act()
        except SourceError as error:
            code = error.code
        finally:
            os.write(ours, code.encode())
            os._exit(0)
    os.close(ours)
    os.waitpid(child, 0)
    with os.fdopen(theirs) as told:
        return told.read()


def test_a_job_that_cannot_be_written_is_left_alone(job: Path) -> None:
    # Everything is imported once, before it is done without the right to.
    put(job, "warm_van.csv")
    with open_folder() as folder:
        own = folder / "job.toml"
        own.write_bytes(job.read_bytes().partition(b"[[log]]")[0])
        own.chmod(0o444)
        folder.chmod(0o777)
        assert as_nobody(lambda: put(own, "shape_1.csv")) == "readings-job-protected"
        assert [each.name for each in folder.iterdir()] == ["job.toml"]
        own.chmod(0o666)
        folder.chmod(0o555)
        assert as_nobody(lambda: put(own, "shape_1.csv")) == "file-not-written"
        assert [each.name for each in folder.iterdir()] == ["job.toml"]


def test_a_bad_file_among_several_keeps_all_of_them_out(
    run: Run, job: Path, tmp_path: Path
) -> None:
    before = job.read_bytes()
    bad = laid(tmp_path, "hello\n", "bad.csv")
    said = run(FOLDER / "shape_1.csv", bad, "--into", job, "--json")
    assert (said.code, said.out, job.read_bytes()) == (3, "", before)
    # Neither does one of which nothing is left.
    late = ("--from", "2026-11-20", "--json")
    said = run(FOLDER / "shape_1.csv", FOLDER / "warm_van.csv", "--into", job, *late)
    assert (said.code, said.out, job.read_bytes()) == (3, "", before)
    assert "No reading of" in said.err
    assert not (job.parent / "job.readings").exists()


def test_several_files_go_in_one_after_another(run: Run, job: Path) -> None:
    said = run(FOLDER / "shape_1.csv", FOLDER / "warm_van.csv", "--into", job)
    assert (said.code, said.out.count("Added to")) == (0, 2)
    assert len(series(job)) == 2


def test_what_was_added_before_a_failure_is_told(run: Run, job: Path) -> None:
    blocked = put(job, "warm_van.csv").path
    assert blocked is not None
    job.write_bytes(job.read_bytes().partition(b"[[log]]")[0])
    blocked.unlink()
    blocked.mkdir()
    said = run(FOLDER / "shape_1.csv", FOLDER / "warm_van.csv", "--into", job, "--json")
    assert said.code == 3
    first, second = json.loads(said.out)["files"]
    assert [each["new"] for each in first["added"]] == [60]
    assert second["added"] == []
    assert len(series(job)) == 1


def test_an_empty_time_zone_is_no_time_zone(run: Run) -> None:
    said = run(FOLDER / "shape_1.csv", "--timezone", "")
    assert (said.code, said.out) == (2, "")


# ---- what lies beside the job -----------------------------------------------------------------


def test_a_link_to_a_job_keeps_the_readings_beside_the_job(job: Path, tmp_path: Path) -> None:
    link = tmp_path / "elsewhere" / "link.toml"
    link.parent.mkdir()
    link.symlink_to(job)
    added = put(link, "shape_1.csv")
    assert added.path in kept(job)
    assert link.is_symlink()
    for path in (link, job):
        assert (len(series(path)), found(read_job(path))) == (1, [])


def test_a_pipe_in_place_of_readings_is_not_waited_for(job: Path) -> None:
    added = put(job, "shape_1.csv")
    assert added.path is not None
    added.path.unlink()
    os.mkfifo(added.path)
    assert found(read_job(job)) == [("stop", "readings-hash-differs")]


def test_a_line_taken_out_of_an_entry_stops_the_job(job: Path) -> None:
    put(job, "shape_1.csv")
    lines = job.read_text(encoding="utf-8").splitlines(keepends=True)
    rest = "".join(line for line in lines if not line.startswith("sha256"))
    job.write_text(rest, encoding="utf-8")
    assert found(read_job(job)) == [("stop", "readings-without-hash")]


def test_an_entry_by_hand_without_its_hash_names_what_is_missing(job: Path) -> None:
    at = datetime(2026, 11, 30, tzinfo=UTC)
    append_entry(job, "readings", {"file": "a.csv"}, at=at, recorded=NOW, zone="hall")
    (finding,) = (each for each in read_job(job).findings if each.code.startswith("readings"))
    assert finding.params["file"] == "a.csv"


def test_a_day_alone_counts_whole_at_either_end(run: Run, job: Path) -> None:
    rows = [f"2026-06-{day:02d} {hour:02d}:30,19.0" for day in (1, 2, 3) for hour in range(24)]
    file = laid(job.parent, "Time,Temp (°C)\n" + "\n".join(rows) + "\n", "days.csv")
    said = run(file, "--into", job, "--from", "2026-06-02", "--until", "2026-06-02", "--json")
    assert said.code == 0
    assert [each["new"] for each in json.loads(said.out)["files"][0]["added"]] == [24]
    [entry] = series(job)
    tz = read_job(job).job.tz  # type: ignore[union-attr]
    # The first and the last reading of that day on site.
    first, last = (datetime(2026, 6, 2, hour, 30, tzinfo=tz).astimezone(UTC) for hour in (0, 23))
    assert [entry.points[0][0], entry.points[-1][0]] == [first, last]


def test_a_stranger_does_not_take_back_a_file_that_is_gone(job: Path) -> None:
    added = put(job, "shape_1.csv")
    assert added.path is not None
    added.path.unlink()
    missing = [("stop", "readings-file-missing")]
    assert found(read_job(job)) == missing
    assert added.id is not None
    back = f'\n[[log]]\nat = 2026-12-01T12:00:00Z\nkind = "correction"\nof = "{added.id}"\n'
    text = job.read_text(encoding="utf-8") + back + "withdrawn = true\n"
    for by, told in (("Max", missing), ("Ida Fennell", missing), ("Robin Mistral", [])):
        job.write_text(f'{text}by = "{by}"\n', encoding="utf-8")
        assert found(read_job(job)) == told, by
