"""Several entries in one go: all of them or none, in order, each with an id of its own."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
import tomli
from append_samples import AT, JOB, NOW, job_file

from curecal.errors import ValueRefused
from curecal.site_log_files.append import NewEntry, append_entries

AIR = NewEntry(kind="air", values={"air": "64 °F"}, at=AT, recorded=NOW)


def test_several_entries_stand_in_their_order_behind_the_old_bytes(tmp_path: Path) -> None:
    path = job_file(tmp_path)
    entries = [replace(AIR, values={"air": f"{degrees} °F"}) for degrees in (64, 65, 66)]
    made = append_entries(path, entries)
    text = path.read_text(encoding="utf-8")
    assert text.startswith(JOB)
    log = tomli.loads(text)["log"]
    assert [row["air"] for row in log] == ["64 °F", "65 °F", "66 °F"]
    assert [row["id"] for row in log] == [one.id for one in made]
    assert [one.index for one in made] == [0, 1, 2]
    assert len({one.id for one in made}) == 3


def test_one_that_cannot_be_written_leaves_all_out(tmp_path: Path) -> None:
    path = job_file(tmp_path)
    with pytest.raises(ValueRefused) as caught:
        append_entries(path, [replace(AIR, entry_id="e-1"), replace(AIR, entry_id="e-1")])
    assert caught.value.code == "entry-id-twice"
    assert path.read_text(encoding="utf-8") == JOB


def test_what_looks_at_the_file_sees_all_of_them(tmp_path: Path) -> None:
    seen: list[int] = []

    def look(new: Path) -> None:
        seen.append(len(tomli.loads(new.read_text(encoding="utf-8"))["log"]))

    append_entries(job_file(tmp_path), [AIR, AIR], check=look)
    assert seen == [2]
