"""The order of dates is the true one or is asked for, whatever was logged and however long."""

from __future__ import annotations

import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from curecal.errors import SourceError
from curecal.readings.export.read_export import read_export
from curecal.readings.table.export_types import Answers

FORMS = {
    "D/M/Y": ("%d/%m/%Y", "%d.%m.%y", "%d-%m-%y"),
    "M/D/Y": ("%m/%d/%Y", "%m/%d/%y", "%m-%d-%Y"),
    "Y/M/D": ("%y/%m/%d", "%y-%m-%d", "%y.%m.%d"),
}


@st.composite
def instants(draw: st.DrawFn) -> list[datetime]:
    """Draw when a logger wrote: by its interval, with gaps of up to some weeks."""
    at = datetime(2024, 1, 1, tzinfo=UTC) + timedelta(hours=draw(st.integers(0, 24 * 900)))
    step = timedelta(minutes=draw(st.sampled_from([1, 5, 10, 30, 60, 120, 240])))
    found = []
    for run in draw(st.lists(st.integers(1, 70), min_size=1, max_size=5)):
        for _ in range(run):
            found.append(at)
            at += step
        at += timedelta(hours=draw(st.integers(0, 24 * 40)))
    return found


@given(
    at=instants(),
    order=st.sampled_from(sorted(FORMS)),
    turn=st.sampled_from(["", "back", "parts"]),
    form=st.integers(0, 2),
    unpadded=st.booleans(),
)
def test_an_order_is_the_true_one_or_asked(
    at: list[datetime], order: str, turn: str, form: int, *, unpadded: bool
) -> None:
    rows = [f"{each:{FORMS[order][form]}} {each:%H:%M},{19 + i % 7}.0" for i, each in enumerate(at)]
    if unpadded and order == "M/D/Y":
        rows = [row.removeprefix("0") for row in rows]
    if turn == "back":
        rows.reverse()
    if turn == "parts":
        rows = rows[len(rows) // 2 :] + rows[: len(rows) // 2]
    text = "\n".join(["Time (UTC),Temperature (°C)", *rows]) + "\n"
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "logger.csv")
        path.write_text(text, encoding="utf-8")
        try:
            export = read_export(path, Answers(latest_year=2027))
        except SourceError as refused:
            found, code = None, refused.code
        else:
            found, code = export, ""
    if found is None:
        assert code in {"readings-order-unknown", "readings-too-sparse"}
        return
    assert found.order.value == order
    assert (found.channels[0].first, found.channels[0].last) == (min(at), max(at))


CHANGES = (
    ("America/Halifax", "2026-11-01T05:00"),
    ("America/Halifax", "2026-03-08T06:00"),
    ("Europe/Berlin", "2026-10-25T01:00"),
    ("Europe/London", "2026-03-29T01:00"),
    # Half an hour.
    ("Australia/Lord_Howe", "2026-04-04T15:00"),
    # At midnight.
    ("America/Havana", "2026-11-01T05:00"),
)


@given(
    change=st.sampled_from(CHANGES),
    before=st.integers(0, 600),
    count=st.integers(2, 150),
    step=st.sampled_from([1, 5, 7, 10, 15, 20, 30, 60, 90]),
    lost=st.sets(st.integers(0, 149), max_size=5),
    back=st.booleans(),
)
def test_a_clock_that_is_changed_gives_the_true_instants_or_none(
    change: tuple[str, str], before: int, count: int, step: int, lost: set[int], *, back: bool
) -> None:
    zone = ZoneInfo(change[0])
    changed = datetime.fromisoformat(change[1]).replace(tzinfo=UTC)
    start = changed - timedelta(minutes=before)
    true = [start + timedelta(minutes=step * i) for i in range(count) if i not in lost]
    rows = [f"{at.astimezone(zone):%Y-%m-%d %H:%M},{18 + i / 100:.2f}" for i, at in enumerate(true)]
    if back:
        rows.reverse()
    text = "\n".join(["Time,Temperature (°C)", *rows]) + "\n"
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "logger.csv")
        path.write_text(text, encoding="utf-8")
        channels, code = (), "readings-none"
        try:
            channels = read_export(path, Answers(zone=zone)).channels
        except SourceError as refused:
            code = refused.code
    assert code in {"readings-none", "readings-no-rows"}
    if not channels:
        return
    found = [at for at, _, _ in channels[0].points()]
    hour = timedelta(hours=1)
    assert set(found) <= set(true)
    assert {at for at in true if not changed - hour <= at < changed + hour} <= set(found)
