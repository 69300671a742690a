"""Lines of a logger's file that are odd: read where they can be, and never lost without a word."""

from __future__ import annotations

from pathlib import Path

import pytest
from logger_samples import HALIFAX, laid, read, simple

from curecal.errors import SourceError
from curecal.readings.columns.rows import CHUNK
from curecal.readings.table.cell_values import figure
from curecal.readings.table.export_types import LoggerExport
from curecal.readings.table.text import split
from curecal.readings.table.unparsed_lines import UnparsedLines

HEAD = "Time (UTC),Temperature (°C),Humidity (%),Note"


def text_of(*odd: str, count: int = 200, head: str = HEAD) -> str:
    """Return a plain file with odd rows in its middle, `{t}` in one is its instant."""
    stamps = [f"2026-11-13 {n // 60 + 10:02d}:{n % 60:02d}:00" for n in range(count)]
    rows = [f"{stamp},15.0,55.0," for stamp in stamps]
    for place, row in enumerate(odd, start=90):
        rows[place] = row.replace("{t}", stamps[place])
    return "\n".join([head, *rows]) + "\n"


def codes(export: LoggerExport) -> list[str]:
    return [finding.code for finding in export.findings]


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("\u22123.0", -3.0),
        ("\u20133,5", -3.5),
        ("\uff0d3", -3.0),
        ("(3.0)", -3.0),
        ("3.0-", -3.0),
        ("<-5", -5.0),
        ("-.5", -0.5),
        (".5", 0.5),
        ("5.", 5.0),
        ("15 ℃", 15.0),
        ("0000000000015.0", 15.0),
    ],
)
def test_figures_as_some_loggers_and_spreadsheets_write_them(text: str, value: float) -> None:
    assert figure(text) == value


@pytest.mark.parametrize("text", ["-127", "-127.00", "OL", "O.L", "-196.6", "#N/A", "--.-"])
def test_what_a_missing_sensor_writes_is_no_reading(tmp_path: Path, text: str) -> None:
    export = read(laid(tmp_path, text_of(f"{{t}},{text},,")))
    assert (export.events, export.bad.count, len(export.channels[0])) == (1, 0, 199)


@pytest.mark.parametrize("text", ["(5", "5)", "--5", "<5", "- 5", ".", "(-5)", "5-5"])
def test_what_is_no_figure_is_none(text: str) -> None:
    with pytest.raises(ValueError, match=r".*"):
        figure(text)


def test_frost_written_with_another_minus_counts(tmp_path: Path) -> None:
    odd = [f"{{t}},{cell},55.0," for cell in ("\u22123.0", "(3.5)", "4.0-", "<-5", "-.5")]
    export = read(laid(tmp_path, text_of(*odd)))
    assert (export.bad.count, len(export.channels[0])) == (0, 200)
    assert list(export.channels[0].temperature_c[90:95]) == [-3.0, -3.5, -4.0, -5.0, -0.5]


@pytest.mark.parametrize("cell", ["-.5", ".5", "5.", "+.25", "00000000005.0", "1.12345678901234"])
def test_a_figure_is_the_same_in_a_plain_chunk_and_beside_an_event(
    tmp_path: Path, cell: str
) -> None:
    count = 200
    assert count < CHUNK
    plain = read(laid(tmp_path, text_of(f"{{t}},{cell},55.0,", count=count), "plain.csv"))
    slow = read(laid(tmp_path, text_of(f"{{t}},{cell},55.0,", "{t},--,,"), "slow.csv"))
    values = (plain.channels[0].temperature_c[90], slow.channels[0].temperature_c[90])
    assert values == (float(cell), float(cell))


@pytest.mark.parametrize("note", ['"window open', 'door 3" open', '"door 3" open', '"a"b"'])
def test_a_quote_that_does_not_close_hides_no_reading(tmp_path: Path, note: str) -> None:
    export = read(laid(tmp_path, text_of(f"{{t}},-3.0,55.0,{note}")))
    assert (export.bad.count, len(export.channels[0])) == (0, 200)
    assert export.channels[0].temperature_c[90] == -3.0


def test_a_quote_that_does_not_close_around_separators_is_a_bad_line(tmp_path: Path) -> None:
    export = read(laid(tmp_path, text_of('{t},-3.0,55.0,"open, cold')))
    assert export.bad.lines == ((92, "bad-fields"),)
    assert codes(export) == ["readings-unread-cold"]
    assert split('"a;b";"c', ";") == ['"a', 'b"', '"c']


@pytest.mark.parametrize(
    "row",
    [
        "{t},-41.0,55.0,",
        "{t},minus 3,55.0,",
        "{t},-3 (!),55.0,",
        "{t},-3.0,55.0,,17",
        "{t},15.0,5x5,-2.0,(3)",
        "2026-13-45 10:00:00,-3.0,55.0,",
        "2026-11-13 10:00:00,-3.0",
    ],
)
def test_an_unread_line_that_may_hide_frost_is_found(tmp_path: Path, row: str) -> None:
    export = read(laid(tmp_path, text_of(row)))
    (finding,) = export.findings
    assert (finding.code, finding.severity.value) == ("readings-unread-cold", "warning")
    assert finding.params == {"row_count": 1, "line": 92}


@pytest.mark.parametrize("row", ["{t},15.0x,-2.0,", "{t},15.0x,55.0,-60", "{t},15.0,5x5,", "x,y"])
def test_nothing_below_zero_where_the_temperature_stands(tmp_path: Path, row: str) -> None:
    export = read(laid(tmp_path, text_of(row)))
    assert (export.bad.count, codes(export)) == (1, [])


def test_frost_in_fahrenheit_has_no_minus(tmp_path: Path) -> None:
    head = "Time (UTC),Temperature (°F),Humidity (%),Note"
    text = text_of("{t},28.0,5x5,", head=head).replace(",15.0,", ",59.0,")
    assert codes(read(laid(tmp_path, text))) == ["readings-unread-cold"]
    warm = text_of("{t},59.0,5x5,", head=head).replace(",15.0,", ",59.0,")
    assert codes(read(laid(tmp_path, warm))) == []


def test_frost_in_a_row_that_says_its_unit_itself(tmp_path: Path) -> None:
    rows = [f"2026-11-13 20:{n:02d}:00,F,59.0" for n in range(60)]
    rows[30] = "2026-11-13 20:30:00,F,28.0,x"
    rows[40] = "2026-11-13 20:40:00"
    text = "\n".join(["Time (UTC),Unit,Value", *rows]) + "\n"
    export = read(laid(tmp_path, text))
    assert codes(export) == ["readings-unread-cold"]
    assert export.findings[0].params == {"row_count": 1, "line": 32}


def test_a_run_of_unread_lines_is_found(tmp_path: Path) -> None:
    odd = ["{t},15.0x,55.0,"] * 3
    export = read(laid(tmp_path, text_of(*odd)))
    (finding,) = export.findings
    assert (finding.code, finding.params) == (
        "readings-unread-run",
        {"row_count": 3, "line": 92},
    )
    apart = ["{t},15.0x,55.0,", "{t},15.0,55.0,", "{t},15.0x,55.0,"]
    assert codes(read(laid(tmp_path, text_of(*apart)))) == []


def test_more_than_a_small_share_of_unread_readings_is_refused(tmp_path: Path) -> None:
    odd = ["{t},15.0x,55.0,", "{t},15.0,55.0,"]
    # Of 200 lines the twentieth is ten.
    assert read(laid(tmp_path, text_of(*odd * 10))).bad.count == 10
    with pytest.raises(SourceError, match="readings-mostly-bad") as refused:
        read(laid(tmp_path, text_of(*odd * 11)))
    assert (refused.value.params["bad_count"], refused.value.params["line"]) == (11, 92)
    # Lines that carry no readings are no share of them.
    assert read(laid(tmp_path, text_of(*["a note"] * 30))).bad.count == 30


def test_a_time_that_the_clock_skips_may_hide_frost_too(tmp_path: Path) -> None:
    head = "Time,Temperature (°C),Humidity (%)"
    text = simple(start="2026-03-07T20:00:00", count=30, head=head)
    path = laid(tmp_path, text + "2026-03-08 02:30:00,-1.0,50.0\n")
    assert codes(read(path, zone=HALIFAX)) == ["readings-unread-cold"]
    rows = [f"2026-03-07 20:{n:02d}:00,C,15.0" for n in range(30)]
    by_row = "\n".join(["Time,Unit,Value", *rows, "2026-03-08 02:30:00,C,-1.0"]) + "\n"
    assert codes(read(laid(tmp_path, by_row), zone=HALIFAX)) == ["readings-unread-cold"]


def test_what_stands_in_lost_lines_is_counted() -> None:
    unread = UnparsedLines()
    unread.lose(7, "bad-instant", [(15.0, "C"), (28.0, "F")])
    unread.lose(9, "bad-instant", [(15.0, "C")])
    assert (unread.count, unread.readings, unread.cold, unread.cold_line) == (2, 2, 1, 7)
    assert unread.bad().lines == ((7, "bad-instant"), (9, "bad-instant"))


@pytest.mark.parametrize("share", [3, 2])
def test_humidities_that_no_room_has_refuse_a_file(tmp_path: Path, share: int) -> None:
    rows = [
        f"2026-11-13 {n // 60 + 10:02d}:{n % 60:02d}:00,15.0,{0 if n % share == 0 else 82}"
        for n in range(300)
    ]
    with pytest.raises(SourceError, match="readings-humidity-doubtful") as refused:
        read(laid(tmp_path, "\n".join(["Time (UTC),Temp (°C),RH (%)", *rows]) + "\n"))
    assert refused.value.params["odd_count"] == 300 // share


def test_fractions_further_down_refuse_a_file(tmp_path: Path) -> None:
    rows = [
        f"2026-11-13 {n // 60 + 10:02d}:{n % 60:02d}:00,15.0,{82 if n < 250 else 0.82}"
        for n in range(300)
    ]
    with pytest.raises(SourceError, match="readings-humidity-doubtful"):
        read(laid(tmp_path, "\n".join(["Time (UTC),Temp (°C),RH (%)", *rows]) + "\n"))


@pytest.mark.parametrize("cell", ["0", "1.9", "-4", "105.1", "0.82"])
def test_a_humidity_that_no_room_has_is_none_and_leaves_the_temperature(
    tmp_path: Path, cell: str
) -> None:
    export = read(laid(tmp_path, text_of(f"{{t}},-3.0,{cell},")))
    (channel,) = export.channels
    assert (len(channel), channel.temperature_c[90], export.bad.count) == (200, -3.0, 0)
    assert channel.humidity[90] != channel.humidity[90]
    found = {finding.code: finding.params for finding in export.findings}
    assert found["readings-humidity-odd"] == {"odd_count": 1}


@pytest.mark.parametrize("cell", ["100.4", "101.2", "105"])
def test_a_sensor_a_little_over_saturation_shows_saturation(tmp_path: Path, cell: str) -> None:
    export = read(laid(tmp_path, text_of(f"{{t}},15.0,{cell},")))
    assert (export.channels[0].humidity[90], codes(export)) == (1.0, [])
