"""Laws of a damaged folder: whatever broke is put back, or goes on above what people hold."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from calendar_samples import HALL, HALL_PLAN, plan
from hypothesis import given
from hypothesis import strategies as st
from test_ics_folder import NAMES, contents, ledger_of, put

from curecal.calendars import STANDS_PROPERTY, Revised, RevisionChange, faults
from curecal.delivery.ics_folder import CalendarFolder
from curecal.errors import SourceError

UP = replace(HALL_PLAN, zone=replace(HALL, id="up", path="zone.1"))
NOW = plan()


@cache
def before() -> tuple[dict[str, bytes], bytes, dict[str, int]]:
    """Files and ledger of a job one of whose zones was taken out, so that some entries are off."""
    with TemporaryDirectory() as place:
        name = f"{place}/out"
        for made in (plan(HALL_PLAN, UP), plan(replace(HALL_PLAN, holds=()))):
            put(Path(name), made)
        revised, _ = put(Path(name), NOW)
        numbers = {one.uid: one.sequence for one in revised.revisions}
        return contents(Path(name)), ledger_of(Path(name)).path.read_bytes(), numbers


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


def laid_out(place: str, broken: tuple[str, bytes], *, ledger: bool) -> Path:
    folder = Path(place) / "out"
    folder.mkdir()
    for name, octets in {**before()[0], broken[0]: broken[1]}.items():
        (folder / name).write_bytes(octets)
    if ledger:
        ledger_of(folder).path.write_bytes(before()[1])
    return folder


def attempt(folder: Path, *, anyway: bool = False) -> tuple[Revised, CalendarFolder] | SourceError:
    try:
        return put(folder, NOW, 1, anyway=anyway)
    except SourceError as error:
        return error


REFUSED = {"calendar-other-job", "ledger-other", "ledger-behind"}


@pytest.mark.slow
@given(damage())
def test_whatever_broke_is_put_back_from_the_ledger(broken: tuple[str, bytes]) -> None:
    name, data = broken
    files, _, known = before()
    with TemporaryDirectory() as place:
        folder = laid_out(place, broken, ledger=True)
        published = attempt(folder)
        if isinstance(published, SourceError):
            # What names the job or the ledger itself broke: nothing is written over.
            assert published.code in REFUSED
            assert (folder / name).read_bytes() == data
            return
        revised, shown = published
        found = {one.uid: one.sequence for one in revised.revisions}
        assert found.keys() == known.keys()
        raised = {uid for uid in known if found[uid] != known[uid]}
        assert all(found[uid] > known[uid] for uid in raised)
        if not raised:
            assert {name: (folder / name).read_bytes() for name in NAMES} == files
        assert all(kept.read_bytes() == data for kept in shown.kept.values())
        again, shown = put(folder, NOW, 2)
        assert set(again.changes.values()) == {RevisionChange.UNCHANGED}
        assert (shown.written, shown.kept) == ((), {})


@pytest.mark.slow
@given(damage())
def test_whatever_broke_without_a_ledger_goes_on_above(broken: tuple[str, bytes]) -> None:
    name, data = broken
    _, _, known = before()
    with TemporaryDirectory() as place:
        folder = laid_out(place, broken, ledger=False)
        with pytest.raises(SourceError):
            put(folder, NOW, 1)
        assert (folder / name).read_bytes() == data
        published = attempt(folder, anyway=True)
        if isinstance(published, SourceError):
            assert published.code == "calendar-other-job"
            return
        revised, _ = published
        found = {one.uid: one for one in revised.revisions}
        for uid in known.keys() & found.keys():
            assert found[uid].sequence > known[uid]
        assert [one for one in found.values() if one.value(STANDS_PROPERTY) == "hall"]
        for made in NAMES:
            assert faults((folder / made).read_bytes()) == ()
        again, shown = put(folder, NOW, 2)
        assert set(again.changes.values()) == {RevisionChange.UNCHANGED}
        assert (shown.written, shown.kept) == ((), {})
