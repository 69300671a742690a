"""The order of a date's figures comes from evidence, or from a person; never from habit."""

from __future__ import annotations

from pathlib import Path

import pytest
from logger_samples import laid, read, simple

from curecal.readings.export.read_export import read_export
from curecal.readings.table.export_types import Answers, QuestionError

DAY_FIRST, MONTH_FIRST, YEAR_FIRST = "%d/%m/%y %H:%M", "%m/%d/%y %H:%M", "%y/%m/%d %H:%M"


def order(path: Path) -> tuple[str, str]:
    known = read(path).order
    return known.value, known.by


@pytest.mark.parametrize(
    ("form", "wanted"),
    [("%d/%m/%Y %H:%M", "D/M/Y"), (MONTH_FIRST, "M/D/Y"), ("%m/%d/%Y %H:%M", "M/D/Y")],
)
def test_a_figure_over_12_decides(tmp_path: Path, form: str, wanted: str) -> None:
    assert order(laid(tmp_path, simple(form=form))) == (wanted, "over 12")


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("start", ["2026-04-03T20:00:00", "2026-11-10T23:00:00"])
@pytest.mark.parametrize(
    ("form", "wanted"), [(DAY_FIRST, "D/M/Y"), (MONTH_FIRST, "M/D/Y"), (YEAR_FIRST, "Y/M/D")]
)
def test_steps_over_midnight_as_by_day_decide(
    tmp_path: Path, form: str, wanted: str, start: str, *, turned: bool
) -> None:
    head, *rows = simple(start=start, form=form).splitlines()
    text = "\n".join([head, *(reversed(rows) if turned else rows)]) + "\n"
    assert order(laid(tmp_path, text)) == (wanted, "regular")


def test_nothing_decides_and_the_person_does(tmp_path: Path) -> None:
    path = laid(tmp_path, simple(start="2026-04-03T08:00:00", form="%d/%m/%Y %H:%M"))
    with pytest.raises(QuestionError) as refused:
        read(path)
    assert (refused.value.code, refused.value.asks) == ("readings-order-unknown", "order")
    assert refused.value.params["orders"] == "D/M/Y, M/D/Y"
    assert read(path, order="D/M/Y").channels[0].first.month == 4
    assert read(path, order="M/D/Y").channels[0].first.month == 3


def test_an_order_that_cannot_be_is_not_taken_from_a_person(tmp_path: Path) -> None:
    path = laid(tmp_path, simple(form=DAY_FIRST))
    with pytest.raises(QuestionError, match="readings-order-impossible"):
        read(path, order="M/D/Y")


def test_points_between_the_figures_are_no_evidence(tmp_path: Path) -> None:
    path = laid(tmp_path, simple(start="2026-04-03T08:00:00", form="%d.%m.%Y %H:%M"))
    with pytest.raises(QuestionError, match="readings-order-unknown"):
        read(path)


@pytest.mark.parametrize(
    ("line", "by"),
    [
        ("Logging started: 3 April 2026 08:00", "preamble"),
        ("Start: 2026-04-03", "preamble"),
        ("Stop time: 17:50 03/Apr/2026", "preamble"),
    ],
)
def test_a_day_spelled_out_above_decides(tmp_path: Path, line: str, by: str) -> None:
    text = simple(start="2026-04-03T08:00:00", form="%d/%m/%Y %H:%M")
    assert order(laid(tmp_path, f"{line}\n{text}")) == ("D/M/Y", by)


@pytest.mark.parametrize(
    "line",
    [
        "Downloaded: 4 March 2026",
        "Calibrated: 4 March 2026",
        "Printed on 3 April 2026",
        "Start of warranty: 4 March 2026",
        "Calibration started: 4 March 2026",
        "Last service: 4 March 2026",
    ],
)
def test_a_day_of_something_else_decides_nothing(tmp_path: Path, line: str) -> None:
    text = simple(start="2026-04-03T08:00:00", form="%d/%m/%Y %H:%M")
    with pytest.raises(QuestionError, match="readings-order-unknown"):
        read(laid(tmp_path, f"{line}\n{text}"))


@pytest.mark.parametrize("slips", [1, 2, 3])
def test_slips_of_the_pen_over_12_decide_nothing(tmp_path: Path, slips: int) -> None:
    rows = simple(start="2026-04-03T08:00:00", form="%d/%m/%Y %H:%M").splitlines()
    for row in range(10, 10 + 7 * slips, 7):
        rows[row] = rows[row].replace("03/04", "03/14")
    with pytest.raises(QuestionError, match="readings-order-unknown"):
        read(laid(tmp_path, "\n".join(rows) + "\n"))


def test_dates_that_never_go_back_decide_where_nothing_else_does(tmp_path: Path) -> None:
    days = ("09/01", "03/02", "11/03", "04/04", "12/05", "06/06")
    rows = [f"{day}/2026 {hour:02d}:00,19.0,50.0" for day in days for hour in (10, 11, 12, 13)]
    text = "\n".join(["Time (UTC),Temperature (°C),Humidity (%)", *rows]) + "\n"
    assert order(laid(tmp_path, text)) == ("D/M/Y", "monotone")


def test_a_year_of_two_figures_that_is_still_to_come_is_none(tmp_path: Path) -> None:
    path = laid(tmp_path, simple(start="2026-11-30T08:00:00", form=DAY_FIRST))
    with pytest.raises(QuestionError, match="readings-order-unknown"):
        read(path)
    known = read_export(path, Answers(latest_year=2027)).order
    assert (known.value, known.by) == ("D/M/Y", "over 12")


@pytest.mark.parametrize("form", ["%d-%b-%Y %H:%M:%S", "%d %B %Y %H:%M", "%b %d %Y %H:%M"])
def test_a_month_spelled_out_needs_no_evidence(tmp_path: Path, form: str) -> None:
    export = read(laid(tmp_path, simple(start="2026-04-03T08:00:00", form=form)))
    assert export.order.by == "spelled"
    assert (export.channels[0].first.month, export.channels[0].first.day) == (4, 3)


@pytest.mark.parametrize("form", ["%Y-%m-%dT%H:%M:%SZ", "%Y-%m-%dT%H:%M:%S+00:00"])
def test_an_offset_in_every_row_needs_no_zone(tmp_path: Path, form: str) -> None:
    export = read(laid(tmp_path, simple(form=form, head="at,Temperature (°C),Humidity (%)")))
    assert export.zone.by == "row"
    assert export.channels[0].first.isoformat() == "2026-11-13T20:00:00+00:00"


def test_rows_with_and_without_an_offset_are_not_mixed(tmp_path: Path) -> None:
    text = simple(form="%Y-%m-%dT%H:%M:%SZ", head="at,Temperature (°C),Humidity (%)")
    export = read(laid(tmp_path, text + "2026-11-14T08:00:00,19.0,50.0\n"))
    assert export.bad.lines == ((62, "bad-instant"),)
