"""Laws of a damaged folder: whatever broke, publishing goes on, and above what people hold."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from calendar_samples import HALL, HALL_PLAN, plan
from hypothesis import given
from hypothesis import strategies as st
from test_ics_folder import NAMES, contents, put

from curecal.calendars import STANDS_PROPERTY, Change, Revised, Revision, faults
from curecal.delivery.ics_folder import CalendarFolder
from curecal.errors import SourceError

UP = replace(HALL_PLAN, zone=replace(HALL, id="up", path="zone.1"))
NOW = plan()


@cache
def before() -> tuple[dict[str, bytes], dict[str, Revision]]:
    """Files of a job one of whose zones was taken out, so that some entries are off."""
    with TemporaryDirectory() as name:
        for made in (plan(HALL_PLAN, UP), plan(replace(HALL_PLAN, holds=()))):
            put(Path(name), made)
        revised, _ = put(Path(name), NOW)
        return contents(Path(name)), {each.uid: each for each in revised.revisions}


@st.composite
def damage(draw: st.DrawFn) -> tuple[str, bytes]:
    """One file as it may be after a disk, a transfer or a person broke it."""
    name = draw(st.sampled_from(NAMES))
    data = before()[0][name]
    place = draw(st.integers(0, len(data) - 1))
    how = draw(st.sampled_from(["bit", "cut out", "cut off", "line out", "line twice"]))
    if how == "bit":
        broken = bytearray(data)
        broken[place] ^= 1 << draw(st.integers(0, 7))
        return name, bytes(broken)
    if how == "cut out":
        return name, data[:place] + data[place + draw(st.integers(1, 300)) :]
    if how == "cut off":
        return name, data[:place]
    lines = data.split(b"\r\n")
    number = draw(st.integers(0, len(lines) - 1))
    again = [lines[number]] * 2 if how == "line twice" else []
    return name, b"\r\n".join([*lines[:number], *again, *lines[number + 1 :]])


def attempt(folder: Path) -> tuple[Revised, CalendarFolder] | SourceError:
    try:
        return put(folder, NOW, 1)
    except SourceError as error:
        return error


@pytest.mark.slow
@given(damage())
def test_whatever_broke_publishing_goes_on_above_what_people_hold(
    broken: tuple[str, bytes],
) -> None:
    name, data = broken
    files, known = before()
    with TemporaryDirectory() as place:
        folder = Path(place)
        for other, octets in files.items():
            (folder / other).write_bytes(octets)
        (folder / name).write_bytes(data)
        published = attempt(folder)
        if isinstance(published, SourceError):
            # The job's id itself broke: nobody's calendar is written over.
            assert published.code == "calendar-other-job"
            assert (folder / name).read_bytes() == data
            return
        revised, store = published
        found = {each.uid: each for each in revised.revisions}
        for uid, last in known.items():
            each = found.get(uid)
            if each is None or revised.changes[uid] is Change.UNCHANGED:
                continue
            assert each.sequence > last.sequence
        if found.keys() != known.keys():
            # What was lost can be looked up.
            assert store.kept[name].read_bytes() == data
        assert [each for each in found.values() if each.value(STANDS_PROPERTY) == "hall"]
        for made in NAMES:
            assert faults((folder / made).read_bytes()) == ()
        # From then on it is a history like any other.
        again, store = put(folder, NOW, 2)
        assert set(again.changes.values()) == {Change.UNCHANGED}
        assert (store.written, store.kept) == ((), {})
