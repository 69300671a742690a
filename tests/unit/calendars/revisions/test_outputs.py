"""When an output may be written over: it is this ledger's, and shows nothing it does not know."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from curecal.calendars import Audience, History, LogMark, Revision
from curecal.calendars.revisions.outputs import (
    OutputMark,
    ShownCalendar,
    mark_in,
    refuse_foreign,
    refuse_without_entries,
)
from curecal.errors import SourceError

NOW = datetime(2026, 12, 2, 20, tzinfo=UTC)
CREW = Audience.CREW


def known(*sequences: int) -> History:
    revisions = {
        f"u-{number}": Revision(f"u-{number}", CREW, sequence, NOW, ())
        for number, sequence in enumerate(sequences)
    }
    return History("1", revisions, ledger_id="f00d")


def shown(mark: OutputMark | None = None, **written: int) -> ShownCalendar:
    marks = frozenset({mark} if mark else ())
    events = {name.replace("_", "-"): sequence for name, sequence in written.items()}
    return ShownCalendar("out/crew.ics", CREW, marks, events, texts=[["BEGIN:VCALENDAR"]])


@pytest.mark.parametrize(
    "output",
    [
        ShownCalendar("out/crew.ics", CREW),
        # Damaged or never ours: what it says counts for nothing.
        shown(),
        shown(OutputMark("f00d", 8), u_0=2, u_1=3),
        shown(OutputMark("f00d", 3), u_0=1),
    ],
)
def test_what_the_ledger_knows_may_be_written_over(output: ShownCalendar) -> None:
    # Two events, published three and four times: the count is 7; a mark of 8 would be ahead.
    history = known(3, 3)
    assert history.count_of(CREW) == 8
    refuse_foreign(history, [output])


@pytest.mark.parametrize(
    ("history", "output", "code"),
    [
        (History(""), shown(), "ledger-missing"),
        (History(""), shown(OutputMark("f00d", 1)), "ledger-missing"),
        (known(3, 3), shown(OutputMark("beef", 1)), "ledger-other"),
        (known(3, 3), shown(OutputMark("f00d", 9)), "ledger-behind"),
        (known(3, 3), shown(OutputMark("f00d", 5), u_0=4), "ledger-behind"),
        (known(3, 3), shown(OutputMark("f00d", 5), u_9=0), "ledger-behind"),
    ],
)
def test_what_it_does_not_know_is_not(history: History, output: ShownCalendar, code: str) -> None:
    with pytest.raises(SourceError) as refused:
        refuse_foreign(history, [ShownCalendar("out/owner.ics", CREW), output])
    assert refused.value.code == code
    assert refused.value.params == {"place": "out/crew.ics"}


def test_a_mark_is_read_back() -> None:
    for mark in (OutputMark("f00d", 7, "abc"), OutputMark("f00d", 0)):
        assert mark_in(mark.line.partition(":")[2]) == mark
    for text in ("", "f00d", "f00d x", " 7", "f00d -1", "f00d ٣"):
        assert mark_in(text) is None


AIR = LogMark("a" * 24, "reading", NOW)
FLOOR = LogMark("b" * 24, "reading", NOW)


def test_a_log_that_lacks_an_entry_is_refused_by_name() -> None:
    history = History("", rests_on={"air": AIR, "floor": FLOOR})
    refuse_without_entries(history, {"floor": FLOOR, "air": AIR, "more": AIR})
    for log in ({"air": AIR}, {"air": AIR, "floor": AIR}):
        with pytest.raises(SourceError) as refused:
            refuse_without_entries(history, log)
        assert refused.value.code == "ledger-entries"
        assert (refused.value.params["count"], refused.value.params["entries"]) == (1, "floor")
