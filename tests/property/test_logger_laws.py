"""Laws of loggers' files: parts are the whole, twice is once, order of rows has no effect."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from curecal.errors import SourceError
from curecal.job_files import load_rules, read_job
from curecal.planning.climate.intervals import combine_ranks
from curecal.planning.climate.pieces import Piece
from curecal.planning.climate.temperature_readings import place_pieces
from curecal.planning.site_log.log_at_instant import facts_at
from curecal.readings.export.read_export import read_export
from curecal.readings.series.add_to_job import Destination, add_channel
from curecal.readings.series.stored_readings import decode_channel, encode_channel
from curecal.readings.table.export_types import Answers, LoggerChannel, Order
from curecal.site_log_files.append import append_entry
from curecal.trade.site_log import Entry, Place, Series
from curecal.words.sentences import plain_words

JOB = Path(__file__).parents[2] / "examples" / "bathroom" / "job.toml"
START = datetime(2026, 11, 2, tzinfo=UTC)
NOW = datetime(2027, 1, 2, tzinfo=UTC)
HEADER = "Time (UTC),Temperature (°C),Humidity (%)"
FORMS = {Order.DMY: "%d/%m/%Y", Order.MDY: "%m/%d/%Y", Order.YMD: "%Y/%m/%d"}

CODECS = ("utf-8", "utf-8-sig", "utf-16", "latin-1")

Row = tuple[int, float, float]


@st.composite
def logs(draw: st.DrawFn) -> list[Row]:
    """Draw readings ten minutes apart, some of them missing, as a room has them."""
    count = draw(st.integers(12, 60))
    lost = draw(st.sets(st.integers(1, count - 2), max_size=6))
    warm = draw(st.integers(1500, 2100))
    drift = draw(st.lists(st.integers(-20, 20), min_size=count, max_size=count))
    rows = []
    for number, step in enumerate(drift):
        warm = min(max(warm + step, 400), 3000)
        if number not in lost:
            rows.append((600 * number, warm / 100, (4000 + (warm * 7) % 2000) / 100))
    return rows


def text_of(rows: list[Row], form: str = "%Y-%m-%d %H:%M:%S", header: str = HEADER) -> str:
    lines = [
        f"{START + timedelta(seconds=at_s):{form}},{warm:.2f},{damp:.2f}"
        for at_s, warm, damp in rows
    ]
    return "\n".join([header, *lines]) + "\n"


def channel_of(text: str, answers: Answers | None = None) -> LoggerChannel:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "logger.csv")
        path.write_text(text, encoding="utf-8")
        (channel,) = read_export(path, answers or Answers()).channels
        return channel


def same(one: LoggerChannel, other: LoggerChannel) -> bool:
    return encode_channel(one) == encode_channel(other)


def put(job: Path, channel: LoggerChannel) -> int:
    def append(values: Mapping[str, object], look: Callable[[], None]) -> str:
        said = append_entry(
            job, "readings", values, at=NOW, recorded=NOW, zone="hall", check=lambda _: look()
        )
        return said.id

    def log() -> Sequence[Entry]:
        return facts_at(read_job(job).log, NOW, ()).entries

    return add_channel(
        job, channel, Destination("hall", Place.AIR), log=log, understood="…", append=append
    ).new


def covered(job: Path) -> list[Piece]:
    """What a job's loggers cover, as planning sees it."""
    series = facts_at(read_job(job).log, NOW, ()).of(Series)

    def seconds(at: datetime) -> float:
        return (at - START).total_seconds()

    pieces = place_pieces(Place.AIR, (), series, seconds, load_rules()).pieces
    return combine_ranks([pieces], min)


@given(rows=logs(), cut=st.integers(3, 9), overlap=st.integers(0, 3))
def test_two_parts_of_a_file_are_the_file(rows: list[Row], cut: int, overlap: int) -> None:
    # Fewer than three rows are no block of data.
    cut = min(cut, len(rows) - 3)
    first, second = rows[:cut], rows[max(cut - overlap, 0) :]
    with tempfile.TemporaryDirectory() as folder:
        once, twice = Path(folder, "once", "job.toml"), Path(folder, "twice", "job.toml")
        for job in (once, twice):
            job.parent.mkdir()
            shutil.copy(JOB, job)
        put(once, channel_of(text_of(rows)))
        for part in (first, second):
            put(twice, channel_of(text_of(part)))
        assert covered(twice) == covered(once)


@given(rows=logs())
def test_the_same_file_twice_is_once(rows: list[Row]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        job = Path(folder, "job.toml")
        shutil.copy(JOB, job)
        channel = channel_of(text_of(rows))
        assert put(job, channel) == len(rows)
        before = job.read_bytes()
        assert put(job, channel) == 0
        assert job.read_bytes() == before


@given(rows=logs(), seed=st.randoms(use_true_random=False))
def test_the_order_of_rows_has_no_effect(rows: list[Row], seed) -> None:
    mixed = list(rows)
    seed.shuffle(mixed)
    assert same(channel_of(text_of(mixed)), channel_of(text_of(rows)))


@given(rows=logs(), order=st.sampled_from(list(Order)), hours=st.integers(-11, 13))
def test_form_of_dates_and_clock_have_no_effect(rows: list[Row], order: Order, hours: int) -> None:
    clock = timezone(timedelta(hours=hours))
    lines = [
        f"{(START + timedelta(seconds=at_s)).astimezone(clock):{FORMS[order]} %I:%M:%S %p},"
        f"{warm:.2f},{damp:.2f}"
        for at_s, warm, damp in rows
    ]
    text = "\n".join(["Time,Temperature (°C),Humidity (%)", *lines]) + "\n"
    found = channel_of(text, Answers(order=order, zone=clock))
    assert same(found, channel_of(text_of(rows)))


@given(rows=logs())
def test_fahrenheit_and_celsius_are_the_same_room(rows: list[Row]) -> None:
    hot = [(at_s, warm * 9 / 5 + 32, damp) for at_s, warm, damp in rows]
    found = channel_of(text_of(hot, header=HEADER.replace("°C", "°F")), Answers(unit="F"))
    wanted = channel_of(text_of(rows), Answers(unit="C"))
    assert found.at_s == wanted.at_s
    # Half of the last decimal printed, in °F.
    assert all(
        abs(one - other) <= 0.005 * 5 / 9 + 1e-9
        for one, other in zip(found.temperature_c, wanted.temperature_c, strict=True)
    )


@given(rows=logs())
def test_what_is_kept_comes_back(rows: list[Row]) -> None:
    channel = channel_of(text_of(rows))
    assert same(decode_channel(encode_channel(channel), "x"), channel)


@given(rows=logs(), events=st.sets(st.integers(0, 50), max_size=9))
def test_rows_without_a_reading_change_no_reading(rows: list[Row], events: set[int]) -> None:
    lines = text_of(rows).splitlines()
    for number in sorted(events, reverse=True):
        if number < len(rows):
            at = START + timedelta(seconds=rows[number][0] + 61)
            lines.insert(number + 2, f"{at:%Y-%m-%d %H:%M:%S},,")
    assert same(channel_of("\n".join(lines) + "\n"), channel_of(text_of(rows)))


@given(rows=logs(), quoted=st.booleans(), crlf=st.booleans(), tabs=st.booleans())
def test_quotes_line_ends_and_separators_have_no_effect(
    rows: list[Row], *, quoted: bool, crlf: bool, tabs: bool
) -> None:
    text = text_of(rows)
    if quoted:
        text = "\n".join(
            ",".join(f'"{field}"' for field in line.split(",")) for line in text.splitlines()
        )
    if tabs:
        text = text.replace(",", "\t")
    if crlf:
        text = text.replace("\n", "\r\n")
    assert same(channel_of(text), channel_of(text_of(rows)))


TOKENS = st.sampled_from(
    [
        *("2026-11-02 08:00:00", "02/11/26", "08:00", "08:00 PM", "11/02/2026 08:10", "1", "21.5"),
        *("55", "-999", "--", "°C", "°F", "%RH", "Temperature (°C)", "Humidity (%)", "Time (UTC)"),
        *("Date", "Device", "A-1", '"', "", " ", "Start: 2 Nov 2026", "Unit", "\ufffd", "\u0000"),
    ]
)
LINES = st.lists(st.lists(TOKENS, min_size=1, max_size=5), min_size=1, max_size=12)


@given(lines=LINES, sign=st.sampled_from([",", ";", "\t"]), codec=st.sampled_from(CODECS))
def test_any_text_is_read_or_refused(lines: list[list[str]], sign: str, codec: str) -> None:
    text = "\n".join(sign.join(fields) for fields in lines)
    read_or_refused(text.encode(codec, errors="replace"))


@given(data=st.binary(max_size=400))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    read_or_refused(data)


def read_or_refused(data: bytes) -> None:
    """Read bytes as a logger's file; a refusal is an answer as well."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "logger.csv")
        path.write_bytes(data)
        said, channels = "", ()
        try:
            channels = read_export(path, Answers(zone=UTC)).channels
        except SourceError as refused:
            said = plain_words().error(refused)
        assert bool(said) is not bool(channels)
        for channel in channels:
            assert list(channel.at_s) == sorted(set(channel.at_s))
            assert same(decode_channel(encode_channel(channel), "x"), channel)
