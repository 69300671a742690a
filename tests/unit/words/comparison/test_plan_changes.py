"""What moved, as people read it: the date, because of what, and why a date may come nearer."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from planning_samples import RULES

from curecal.planning.comparison.attribution import ShiftCause
from curecal.planning.comparison.date_shifts import Shift
from curecal.planning.comparison.job_diff import LayerChange, LayerChangeKind
from curecal.planning.comparison.plan_comparison import (
    HoldChange,
    LayerShifts,
    PlanComparison,
    VisitShift,
    ZoneComparison,
)
from curecal.planning.comparison.plan_snapshot import Decider, Ends, EnergizeSnapshot, ZoneSnapshot
from curecal.trade.findings import Message
from curecal.words.catalogue import catalogue
from curecal.words.comparison.plan_changes import moved_lines, with_moved
from curecal.words.layout import TextRun, columns, plain
from curecal.words.sentences import Words
from curecal.words.values import Reader

WORDS = Words(catalogue("en"), Reader(), {rule.id: rule.title for rule in RULES.by_id.values()})
AT = datetime(2027, 3, 1, 12, tzinfo=UTC)
DAY = timedelta(days=1)
STILL = ZoneSnapshot(
    "hall", "hall", "curing", may_energize=False, energize=EnergizeSnapshot(AT, AT + DAY)
)
ENTRY = Message(
    "moved-by-entry",
    {"entry": "air", "entry_at": AT, "by": "Lee", "layer": "", "id": "e1", "of": ""},
)


def ends(early: int | None, late: int | None = None) -> Ends:
    return Ends(
        None if early is None else AT + DAY * early, None if late is None else AT + DAY * late
    )


def told(**more: object) -> ZoneSnapshot:
    return replace(STILL, energize=replace(STILL.energize, **more))  # type: ignore[arg-type]


def zone_moved(before: Ends, after: Ends, **more: object) -> ZoneComparison:
    base = ZoneComparison(
        told(earliest=before.earliest, latest=before.latest),
        told(earliest=after.earliest, latest=after.latest),
        Shift("energize", before, after),
    )
    return replace(base, **more)  # type: ignore[arg-type]


def said(*zones: ZoneComparison, width: int = 80, **more: object) -> list[str]:
    moved = replace(PlanComparison(AT, AT + DAY, zones), **more)  # type: ignore[arg-type]
    lines = plain(moved_lines(moved, WORDS, width))
    assert max(columns(line) for line in lines) <= width
    return lines


def text(*zones: ZoneComparison, **more: object) -> str:
    return " ".join(line.strip() for line in said(*zones, **more))


def test_nothing_moved_is_one_line() -> None:
    still = ZoneComparison(STILL, STILL, None)
    assert said(still) == ["Nothing moved since Mon 1 Mar 2027, 12:00."]


@pytest.mark.parametrize(
    ("before", "after", "wanted"),
    [
        (ends(1, 2), ends(4, 5), "hall: 3 days later, Fri 5 Mar 2027, 12:00 instead of Tue 2 Mar"),
        (
            ends(4, 5),
            ends(1, 2),
            "hall: 3 days earlier, Tue 2 Mar 2027, 12:00 instead of Fri 5 Mar",
        ),
        (ends(4, 9), ends(4, 6), "hall: at the earliest Fri 5 Mar 2027, 12:00, as before. At the"),
        (ends(4, 9), ends(None), "hall: no date any more; it was Fri 5 Mar 2027, 12:00."),
        (ends(None), ends(4, 9), "hall: Fri 5 Mar 2027, 12:00; there was no date before."),
        (ends(4, None), ends(4, 9), "At the coldest Wed 10 Mar 2027, 12:00; there was no date we"),
        (ends(4, 9), ends(4, None), "At the coldest no date we can promise any more; it was Wed"),
        (ends(4, 9), ends(4, 6), "At the coldest 3 days earlier, Sun 7 Mar 2027, 12:00 instead of"),
        (ends(4, 6), ends(4, 9), "At the coldest 3 days later, Wed 10 Mar 2027, 12:00 instead of"),
    ],
)
def test_a_date_is_told_with_what_it_was(before: Ends, after: Ends, wanted: str) -> None:
    assert wanted in text(zone_moved(before, after))


def test_a_date_that_was_and_is_one_instant_is_told_once() -> None:
    assert "coldest" not in text(zone_moved(ends(1, 1), ends(4, 4)))
    assert "coldest" in text(zone_moved(ends(1, 1), ends(4, 5)))


def test_a_state_can_change_while_the_date_stays() -> None:
    found = ZoneComparison(STILL, replace(STILL, state="stopped"), None)
    assert "hall: the date itself has not moved. Was curing, now stopped." in text(found)


@pytest.mark.parametrize(
    ("before", "after", "wanted"),
    [
        (date(2027, 3, 4), date(2027, 3, 9), "not before Tue 9 Mar 2027, instead of Thu 4 Mar"),
        (date(2027, 3, 4), None, "no date we can promise any more; it was Thu 4 Mar 2027."),
        (None, date(2027, 3, 9), "not before Tue 9 Mar 2027; there was no date before."),
    ],
)
def test_the_owner_is_told_another_day(
    before: date | None, after: date | None, wanted: str
) -> None:
    found = ZoneComparison(told(owner_date=before), told(owner_date=after), None)
    assert f"Tell the owner: {wanted}" in text(found)


def test_what_decides_is_told_where_it_changed() -> None:
    mortar = Decider("mortar", "mortar", "heat", "R10")
    found = ZoneComparison(told(governed_by=mortar), STILL, None)
    assert "Now waiting for: nothing (before: mortar, heat)." in text(
        replace(found, changes=(LayerChange(LayerChangeKind.GONE, "mortar", "mortar"),))
    )
    assert "Decides" not in text(
        replace(found, after=replace(told(governed_by=mortar), state="on hold"))
    )


def test_a_cause_is_named_with_its_share_and_why_a_date_may_come_nearer() -> None:
    warm = ShiftCause(
        ENTRY,
        Shift("energize", ends(4, 9), ends(3, 6)),
        entries=("e1",),
        may=Message("moved-may-measured"),
    )
    shown = text(zone_moved(ends(4, 9), ends(3, 6), causes=(warm, warm)))
    because = (
        "Because of the air reading, Mon 1 Mar 2027, 12:00, by Lee (log entry e1): "
        "24 h earlier, at the coldest 3 days earlier."
    )
    assert shown.count(because) == 2
    assert shown.count("Why it may come sooner: it was measured no colder than the plan") == 1


def test_a_cause_of_a_state_says_from_which_to_which() -> None:
    cause = ShiftCause(ENTRY, None, states=("curing", "stopped"))
    assert ": curing to stopped." in text(zone_moved(ends(4, 9), ends(None), causes=(cause,)))


def test_a_cause_of_other_dates_says_which_moved_most() -> None:
    dates = (
        ("a", Shift("cover", ends(1, 1), ends(2, 2))),
        ("b", Shift("start", ends(1, 1), ends(5, 5))),
    )
    cause = ShiftCause(ENTRY, None, dates)
    found = ZoneComparison(STILL, replace(STILL, state="clear"), None, causes=(cause,))
    assert ": start 4 days later, 1 more date." in text(found)
    undated = ShiftCause(ENTRY, None, (("a", Shift("cover", ends(1, 1), ends(None))),))
    assert ": covering no date any more." in text(replace(found, causes=(undated,)))
    lone = ShiftCause(ENTRY, None, (("a", Shift("cover", ends(1, None), ends(1, 3))),))
    assert ": covering at the coldest a date." in text(replace(found, causes=(lone,)))


def test_of_many_causes_the_largest_are_told_in_their_order() -> None:
    causes = tuple(
        ShiftCause(
            Message("moved-by-entry", {**ENTRY.params, "id": f"e{days}"}),
            Shift("energize", ends(0, 0), ends(days, days)),
        )
        for days in (1, 9, 2, 8, 3, 7, 4)
    )
    shown = text(zone_moved(ends(0, 0), ends(34, 34), causes=causes))
    assert [f"log entry e{days})" in shown for days in (1, 9, 2, 8, 3, 7, 4)] == [
        False,
        True,
        False,
        True,
        True,
        True,
        True,
    ]
    assert "2 smaller causes." in shown


def test_a_cause_that_moved_the_date_hides_those_that_did_not() -> None:
    own = ShiftCause(ENTRY, Shift("energize", ends(0, 0), ends(1, 1)))
    other = ShiftCause(
        Message("moved-by-time"), None, (("a", Shift("cover", ends(1, 1), ends(2, 2))),)
    )
    shown = text(zone_moved(ends(0, 0), ends(1, 1), causes=(own, other)))
    assert "1 smaller cause." in shown
    assert "nothing written down" not in shown


def test_planned_layers_are_told_by_where_they_went_and_the_rest_counted() -> None:
    start, cover = Shift("start", ends(1, 1), ends(3, 3)), Shift("cover", ends(2, 2), ends(4, 4))
    layers = [
        LayerShifts(f"l{n}", f"layer {n}", planned=True, shifts=(start, cover)) for n in "1234567"
    ]
    done = LayerShifts("d", "done one", planned=False, shifts=(cover,))
    gone = LayerShifts("g", "undated", planned=True, shifts=(Shift("start", ends(1), ends(None)),))
    shown = text(zone_moved(ends(0, 0), ends(1, 1), layers=(gone, done, *layers)))
    assert "undated, start: no date any more." in shown
    assert "layer 1, start: 2 days later, Thu 4 Mar 2027, 12:00." in shown
    assert "layer 5" not in shown
    assert "done one" not in shown
    assert "11 more dates moved." in shown


def test_hold_points_are_told_with_their_evidence() -> None:
    holds = (
        HoldChange("test-after-laying", "mat A", None, "unmet", "met", "e7"),
        HoldChange("covered-wet", None, "screed", None, "unmet"),
        HoldChange("moisture-test", None, "screed", "met", None),
    )
    shown = text(zone_moved(ends(1, 1), ends(2, 2), holds=holds))
    assert "cable test after laying, mat A: done (was to do) by log entry e7." in shown
    assert "before it was dry: to do, new." in shown
    assert "moisture test: no longer needed (was done)." in shown
    many = text(zone_moved(ends(1, 1), ends(2, 2), holds=holds * 3))
    assert "4 more things to do changed." in many


def test_changes_of_the_job_are_told() -> None:
    changes = tuple(
        LayerChange(change, change.value, f"the {change.value} one") for change in LayerChangeKind
    )
    shown = text(zone_moved(ends(1, 1), ends(2, 2), changes=changes))
    assert "the new one: new in the job." in shown
    assert "the gone one: no longer in the job." in shown
    assert "the data one: its waiting times come from other data than before." in shown
    assert "the done one: finished at another time than logged before." in shown


def test_zones_and_visits_are_told() -> None:
    visits = (
        VisitShift("energize", ("hall",), None, ends(4, 4)),
        VisitShift("test-and-connect", ("hall",), ends(4, None), ends(4, 6)),
        VisitShift("energize", ("den",), ends(None), ends(5, None)),
        VisitShift("rough-in-and-first-test", ("den",), ends(1, 1), None),
    )
    shown = text(new_zones=(STILL,), gone_zones=(replace(STILL, name="den"),), visits=visits)
    assert "hall: new in the job. den: no longer in the job." in shown
    assert "Visit, switch on: new, Fri 5 Mar 2027, 12:00." in shown
    assert "Visit, final test and connection: Fri 5 Mar 2027, 12:00 to Sun 7 Mar" in shown
    assert "(was from Fri 5 Mar 2027, 12:00; no latest date we can promise)" in shown
    assert "(was no date yet)" in shown
    assert "Visit, rough-in and first test: no longer needed." in shown


@pytest.mark.parametrize("width", [10, 40, 80, 120])
def test_it_keeps_to_its_width(width: int) -> None:
    cause = ShiftCause(
        ENTRY, Shift("energize", ends(0, 0), ends(1, 1)), may=Message("moved-may-done")
    )
    said(zone_moved(ends(0, 0), ends(1, 1), causes=(cause,)), width=max(width, 40))
    lines = moved_lines(PlanComparison(AT, AT, ()), WORDS, width)
    assert max(columns(line) for line in plain(lines)) <= max(width, 40)


def test_it_stands_right_after_the_answer() -> None:
    report = [(TextRun("No: not yet,"),), (TextRun("not at all."),), (), (TextRun("hall"),)]
    lines = plain(with_moved(report, PlanComparison(AT, AT, ()), WORDS, 80))
    assert lines == [
        "No: not yet,",
        "not at all.",
        "",
        "Nothing moved since Mon 1 Mar 2027, 12:00.",
        "",
        "hall",
    ]
    assert plain(with_moved(report[:1], PlanComparison(AT, AT, ()), WORDS, 80))[-1].startswith(
        "Nothing"
    )
