"""An entry is added behind every byte that is there, or nothing is changed."""

from __future__ import annotations

import os
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
import tomli
from append_samples import AT, JOB, NOW, SITE, entries, job_file, strays

from curecal.errors import CurecalError, InstantRefused, SourceError, ValueRefused
from curecal.job_files import read_job
from curecal.site_log_files.append import Appended, append_entry
from curecal.site_log_files.entry_toml import block
from curecal.toml_files.atomic_write import locked
from curecal.trade.site_log import Reading


def add(path: Path, **more: object) -> Appended:
    given = {"at": AT, "recorded": NOW, **more}
    return append_entry(path, "air", {"air": "64 °F"}, **given)  # type: ignore[arg-type]


def refused(path: Path, **more: object) -> str:
    """Add in vain, and return why: every byte and every neighbor is as before."""
    before, beside = path.read_bytes(), strays(path)
    with pytest.raises(SourceError) as error:
        add(path, **more)
    assert path.read_bytes() == before
    assert strays(path) == beside
    return error.value.code


# ---- what is written --------------------------------------------------------------------------


def test_an_entry_stands_behind_the_old_bytes(tmp_path: Path) -> None:
    path = job_file(tmp_path)
    made = append_entry(
        path,
        "air",
        {"air": "64 °F", "humidity": "58 %"},
        at=AT,
        recorded=NOW,
        zone="hall",
        by='R. "Q" Example',
        note="by the\ndoor",
        entry_id="e-1",
    )
    assert path.read_text(encoding="utf-8") == (
        JOB
        + """
[[log]]
at = 2026-11-30T16:00:00-04:00
kind = "air"
id = "e-1"
zone = "hall"
air = "64 °F"
humidity = "58 %"
by = "R. \\"Q\\" Example"
note = "by the\\ndoor"
recorded = 2026-11-30T20:05:00.12+00:00
"""
    )
    assert (made.id, made.path, made.index) == ("e-1", path, 0)
    assert entries(path) == [dict(made.entry)]
    assert strays(path) == []


def test_the_ordinary_reader_reads_it(tmp_path: Path) -> None:
    path = job_file(tmp_path)
    made = add(path, zone="hall", by="R. Example")
    (entry,) = read_job(path).log
    assert isinstance(entry, Reading)
    assert (entry.id, entry.at, entry.recorded) == (made.id, AT, NOW)
    assert (entry.zone, entry.by) == ("hall", "R. Example")


def test_every_entry_has_an_id_of_its_own(tmp_path: Path) -> None:
    path = job_file(tmp_path)
    made = [add(path) for _ in range(20)]
    assert [each.index for each in made] == list(range(20))
    assert len({each.id for each in made}) == 20
    assert [each["id"] for each in entries(path)] == [each.id for each in made]
    assert all(len(each.id) == len("e-01234567") for each in made)


def test_an_id_that_is_there_is_refused(tmp_path: Path) -> None:
    path = job_file(tmp_path)
    add(path, entry_id="e-1")
    before = path.read_bytes()
    with pytest.raises(ValueRefused, match="entry-id-twice"):
        add(path, entry_id="e-1")
    assert path.read_bytes() == before


def test_an_instant_keeps_the_offset_of_the_site(tmp_path: Path) -> None:
    path = job_file(tmp_path)
    zone = ZoneInfo("Europe/Berlin")
    # The later of the two half past two of that night: the offset tells it from the earlier.
    later = datetime(2026, 10, 25, 2, 30, fold=1, tzinfo=zone)
    add(path, at=later, recorded=later)
    assert "at = 2026-10-25T02:30:00+01:00\n" in path.read_text(encoding="utf-8")
    assert entries(path)[0]["at"].utcoffset() == timedelta(hours=1)


@pytest.mark.parametrize("which", ["at", "recorded"])
def test_an_instant_without_a_zone_is_refused(tmp_path: Path, which: str) -> None:
    path = job_file(tmp_path)
    with pytest.raises(InstantRefused, match="instant-naive"):
        add(path, **{which: datetime(2026, 11, 30, 16)})  # noqa: DTZ001 - the mistake itself
    assert path.read_bytes() == JOB.encode()


def test_a_key_given_twice_is_a_mistake_of_the_caller(tmp_path: Path) -> None:
    path = job_file(tmp_path)
    with pytest.raises(CurecalError, match="entry-key-twice"):
        append_entry(path, "air", {"zone": "hall"}, at=AT, recorded=NOW, zone="hall")


# ---- the text that is there -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "between"),
    [
        (JOB, "\n[[log]]\n"),
        (JOB.rstrip("\n"), "\n\n[[log]]\n"),
        (JOB + "# the end", "\n\n[[log]]\n"),
        (JOB + "# the end\n", "\n[[log]]\n"),
        (JOB.replace("\n", "\r\n"), "\r\n[[log]]\r\n"),
        (JOB.replace("\n", "\r\n").rstrip("\r\n"), "\r\n\r\n[[log]]\r\n"),
        (JOB.replace("\n", "\r\n") + "# last line ends otherwise\n", "\n[[log]]\n"),
        (JOB + "# last line ends otherwise\r\n", "\r\n[[log]]\r\n"),
        ("\ufeff" + JOB, "\n[[log]]\n"),
        (JOB + '[[log]]\nat = 2026-11-01\nkind = "note"\ntext = "a"', "\n\n[[log]]\n"),
        (JOB + 'x = """\nends here\n"""', "\n\n[[log]]\n"),
        (JOB + "[work]\nnonsense = nan\n", "\n[[log]]\n"),
    ],
)
def test_line_ends_comments_and_marks_stay(tmp_path: Path, text: str, between: str) -> None:
    path = job_file(tmp_path, text)
    add(path)
    new = path.read_bytes()
    assert new.startswith((text + between).encode())
    newline = "\r\n" if "\r" in between else "\n"
    assert new.endswith(newline.encode())
    added = new.removeprefix(text.encode()).decode()
    assert added.count("\n") == added.count(newline)
    assert entries(path)[-1]["air"] == "64 °F"


@pytest.mark.parametrize(
    "log",
    [
        "log = []\n",
        'log = [{ kind = "note", at = 2026-11-01, text = "x" }]\n',
        "log = 3\n",
        'log.kind = "note"\n',
    ],
)
def test_a_log_in_another_form_is_refused_with_the_remedy(tmp_path: Path, log: str) -> None:
    assert refused(job_file(tmp_path, log + JOB)) == "log-not-a-list-of-tables"


def test_a_single_table_of_a_log_is_refused(tmp_path: Path) -> None:
    assert refused(job_file(tmp_path, f'{JOB}[log]\nkind = "note"\n')) == "log-not-a-list-of-tables"


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("[job\n", "file-not-toml"),
        ("", "file-empty"),
        (JOB + "x = \x00", "file-not-toml"),
        ("#" * (1 << 20) + "\n", "file-too-large"),
        ("#" * ((1 << 20) - 40) + "\n", "file-full"),
    ],
)
def test_a_file_that_takes_no_entry_is_left_alone(tmp_path: Path, text: str, code: str) -> None:
    assert refused(job_file(tmp_path, text)) == code


def test_a_file_may_be_filled_to_the_last_byte(tmp_path: Path) -> None:
    entry = {"at": AT, "kind": "air", "id": "e-1", "air": "64 °F", "recorded": NOW}
    room = (1 << 20) - len(("\n" + block(entry, "\n")).encode())
    path = job_file(tmp_path, "#" * (room - 1) + "\n")
    add(path, entry_id="e-1")
    assert path.stat().st_size == 1 << 20
    assert refused(job_file(tmp_path, "#" * room + "\n"), entry_id="e-1") == "file-full"


# ---- the file itself --------------------------------------------------------------------------


def test_a_link_stays_a_link_and_its_file_is_written(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    real = job_file(tmp_path / "real")
    link = tmp_path / "link.toml"
    link.symlink_to("real/job.toml")
    made = add(link)
    assert made.path == link
    assert link.is_symlink()
    assert link.readlink() == Path("real/job.toml")
    assert len(entries(real)) == 1
    assert strays(real) == []
    assert sorted(each.name for each in tmp_path.iterdir()) == ["link.toml", "real"]


def test_links_that_lead_nowhere_are_refused(tmp_path: Path) -> None:
    (tmp_path / "a").symlink_to("b")
    (tmp_path / "b").symlink_to("a")
    (tmp_path / "c").symlink_to("nothing")
    # Before Python 3.13 a circle of links is found when it is followed, and since then when opened.
    for name, codes in (("a", {"file-not-written", "file-missing"}), ("c", {"file-missing"})):
        with pytest.raises(SourceError) as error:
            add(tmp_path / name)
        assert error.value.code in codes
    assert sorted(each.name for each in tmp_path.iterdir()) == ["a", "b", "c"]


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o664, 0o755])
def test_the_rights_of_the_file_stay(tmp_path: Path, mode: int) -> None:
    path = job_file(tmp_path)
    path.chmod(mode)
    add(path)
    assert path.stat().st_mode & 0o7777 == mode


def test_what_is_no_file_is_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for name, code in (
        (".", "file-is-folder"),
        ("pipe", "file-not-regular"),
        ("x", "file-missing"),
    ):
        with pytest.raises(SourceError) as error:
            add(tmp_path / name)
        assert error.value.code == code
    assert [each.name for each in tmp_path.iterdir()] == ["pipe"]


def test_a_log_file_is_begun_only_where_that_is_asked(tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    with pytest.raises(SourceError, match="file-missing"):
        add(path)
    with pytest.raises(SourceError, match="file-missing"):
        add(tmp_path / "no folder" / "site.toml", create=True)
    assert list(tmp_path.iterdir()) == []
    mask = os.umask(0o027)
    try:
        add(path, create=True, entry_id="e-1")
    finally:
        os.umask(mask)
    assert path.stat().st_mode & 0o777 == 0o640
    assert path.read_text(encoding="utf-8").startswith("# ")
    add(path, create=True, entry_id="e-2")
    assert [each["id"] for each in entries(path)] == ["e-1", "e-2"]


# ---- others at the file -----------------------------------------------------------------------


def test_an_edit_between_reading_and_writing_stays(tmp_path: Path) -> None:
    path = job_file(tmp_path)
    edits = [JOB + "# one more line\n", JOB + "# and another\n"]

    def edit(new: Path) -> None:
        assert tomli.loads(new.read_text(encoding="utf-8"))["log"][-1]["air"] == "64 °F"
        if edits:
            path.write_text(edits.pop(0), encoding="utf-8")

    add(path, check=edit)
    assert edits == []
    assert path.read_text(encoding="utf-8").startswith(JOB + "# and another\n\n[[log]]\n")
    assert len(entries(path)) == 1
    assert strays(path) == []


def test_an_edit_that_puts_another_file_there_with_the_same_bytes_is_seen(tmp_path: Path) -> None:
    path = job_file(tmp_path)
    looks = []

    def swap(_new: Path) -> None:
        looks.append(path.stat().st_ino)
        if len(looks) == 1:
            job_file(tmp_path).rename(tmp_path / "old.toml")
            job_file(tmp_path)

    add(path, check=swap)
    assert len(looks) == 2
    assert len(entries(path)) == 1


def test_a_file_that_is_taken_away_is_not_put_back(tmp_path: Path) -> None:
    path = job_file(tmp_path)
    with pytest.raises(SourceError, match="file-missing"):
        add(path, check=lambda _new: path.unlink())
    assert not path.exists()
    assert strays(path) == []


def test_a_file_saved_all_the_time_is_left_to_who_saves_it(tmp_path: Path) -> None:
    path = job_file(tmp_path)
    saves = []

    def save(_new: Path) -> None:
        saves.append(f"{JOB}# {len(saves)}\n")
        path.write_text(saves[-1], encoding="utf-8")

    with pytest.raises(SourceError, match="file-changing"):
        add(path, check=save)
    assert path.read_text(encoding="utf-8") == saves[-1]
    assert strays(path) == []


def test_what_looks_at_the_new_file_can_stop_it(tmp_path: Path) -> None:
    path = job_file(tmp_path)

    def stop(new: Path) -> None:
        assert new.parent == path.parent
        raise ValueRefused("text-empty")

    with pytest.raises(ValueRefused):
        add(path, check=stop)
    assert path.read_bytes() == JOB.encode()
    assert strays(path) == []


def test_who_waits_too_long_for_the_lock_is_told(tmp_path: Path) -> None:
    path = job_file(tmp_path)
    with (
        locked(path),
        pytest.raises(SourceError, match="file-locked"),
        locked(path, longest_wait_s=0.05),
    ):
        pytest.fail("two hold one lock")
    add(path)


# ---- the writer -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (True, "true"),
        (1, "1"),
        (1.0, "1.0"),
        (1e16, "1e+16"),
        ('"\\\n\r\t', '"\\"\\\\\\n\\r\\t"'),
        (["a", 2, False], '["a", 2, false]'),
        (date(2026, 11, 30), "2026-11-30"),
        (datetime(2026, 11, 30, 1, 2, 3, 450_000, tzinfo=UTC), "2026-11-30T01:02:03.45+00:00"),
        (datetime(2026, 11, 30, 1, tzinfo=SITE), "2026-11-30T01:00:00-04:00"),
    ],
)
def test_values_as_toml_has_them(value: object, text: str) -> None:
    written = block({"key one": value}, "\n")
    assert written == f'[[log]]\n"key one" = {text}\n'
    assert tomli.loads(written)["log"] == [{"key one": value}]


@pytest.mark.parametrize(
    "value",
    [
        "a\x00",
        "a\x7f",
        "\ud800",
        float("nan"),
        float("inf"),
        2**63,
        -(2**63) - 1,
        None,
        {"a": 1},
        [b"x"],
        datetime(1890, 1, 1, tzinfo=timezone(timedelta(seconds=-15_265))),
    ],
)
def test_what_toml_cannot_hold_is_refused(tmp_path: Path, value: object) -> None:
    with pytest.raises(ValueRefused):
        block({"key": value}, "\n")
    path = job_file(tmp_path)
    if value is not None:
        with pytest.raises(ValueRefused):
            append_entry(path, "note", {"text": value}, at=AT, recorded=NOW)
    assert path.read_bytes() == JOB.encode()
    assert strays(path) == []
