"""Loggers' files with something broken in them: their readings or a refusal, and nothing else.

What is never allowed is a crash, and readings that were not taken: every reading of a file that is
still read is held to the truth, instant by instant. Only the rows that were broken themselves may
say something else, for their file says it.
"""

from __future__ import annotations

import importlib
import random
import re
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from typing import NamedTuple

import pytest
from file_mutations import COUNTS, count_of, drawn, spoil_value
from logger_samples import FOLDER, HALIFAX, NEW_YORK, Wave, utc

from curecal.errors import SourceError
from curecal.readings.export.read_export import read_export
from curecal.readings.table.export_types import Answers, LoggerExport

FEW, MANY = 200, COUNTS["logger export"]
_JUNK = (b"", b"--", b"-999", b"1e5", b"nan", b"0", b"12/12/12", b"99:99", b"\xff", b'"', b"_1")
# Four things are broken at most, and each of them breaks two rows, or a row and its copy.
BROKEN_ROWS = 8


class Truth(NamedTuple):
    """What a look-alike was made of: its waves, one for each sensor, and what a person says of it.

    `clock` are words of the file that say its clock: another file where they are changed.
    """

    name: str
    waves: tuple[Wave, ...]
    zone: tzinfo | None = None
    unit: str | None = None
    clock: bytes = b""
    step_c: float = 0.1

    def points(self) -> dict[datetime, list[tuple[float, float]]]:
        """Return the true readings [°C, %] at each instant."""
        found: dict[datetime, list[tuple[float, float]]] = {}
        for wave in self.waves:
            for at, warm, damp in wave.points():
                found.setdefault(at.astimezone(UTC), []).append((warm, damp))
        return found


def _here(hour: str, count: int, step_s: int, *mean: float) -> Wave:
    return Wave(datetime.fromisoformat(hour).replace(tzinfo=HALIFAX), count, step_s, *mean)


_HOURLY = Wave(utc("2026-11-14T00:00:00"), 60, 3600)
_UTC = Wave(utc("2026-11-13T20:00:00"), 60, 600)
_EVENING = _here("2026-11-13T20:00", 60, 600)
_THREE = tuple(
    _here("2026-11-02T00:00", 50, 1800, 18.0 + more_c, 55.0 + more)
    for more_c, more in ((0.0, 0.0), (3.0, 2.0), (6.0, 5.0))
)
TRUTHS = (
    Truth("shape_1.csv", (Wave(utc("2026-11-30T03:00:00"), 60, 900),), clock=b"GMT-05:00"),
    Truth(
        "shape_2.txt",
        (Wave(datetime(2012, 10, 11, 8, tzinfo=NEW_YORK), 41, 900, 18.0),),
        NEW_YORK,
    ),
    Truth("shape_3.csv", (_here("2026-10-25T22:00", 90, 600, 17.0, 61.0),), HALIFAX, step_c=1.0),
    Truth("shape_4_quoted.csv", _THREE, HALIFAX),
    Truth("shape_4_bare.csv", _THREE, HALIFAX),
    Truth("shape_6.csv", (_here("2026-09-29T20:00", 100, 900, 20.0, 48.0),), HALIFAX),
    Truth("shape_7.csv", (_here("2026-11-09T22:00", 88, 600, 14.0, 66.0),), HALIFAX),
    Truth("decimal_comma.csv", (_EVENING,), HALIFAX),
    Truth("utf16_tabs.txt", (_EVENING,), HALIFAX),
    Truth("unit_by_row.csv", (Wave(utc("2026-11-13T20:00:00"), 30, 600),), clock=b"(UTC)"),
    Truth("database_dump.csv", (_UTC,), unit="C"),
    Truth("instant_in_the_middle.csv", (_UTC,), clock=b"(UTC)"),
    Truth("annotated_series.csv", (_UTC,)),
    Truth("entities.csv", (_UTC,), unit="C"),
    Truth("calibrated.csv", (_UTC,), clock=b"(UTC)"),
    Truth("marker_line.txt", (_EVENING,), HALIFAX),
    Truth("both_units.csv", (_EVENING,), HALIFAX),
    Truth("seconds_since_1970.csv", (_UTC,)),
    Truth("milliseconds_since_1970.csv", (_UTC,)),
    Truth("packed_instants.csv", (_here("2017-04-08T18:11", 60, 600),), HALIFAX),
    Truth("zone_letters.csv", (Wave(utc("2026-11-01T01:00:00"), 60, 600),), HALIFAX),
    Truth("time_first.csv", (_EVENING,), HALIFAX),
    Truth("parts_of_the_instant.csv", (_HOURLY,), HALIFAX),
    Truth("instant_twice.csv", (_UTC,), clock=b"(UTC)"),
    # Day first, which nothing in it shows: to be refused, or read so by what was broken.
    Truth("ambiguous_order.csv", (Wave(utc("2026-04-03T07:00:00"), 32, 900),), clock=b"GMT+01:00"),
)

Mutate = Callable[[bytes, random.Random], bytes]


def _flip(data: bytes, draw: random.Random) -> bytes:
    at = draw.randrange(len(data))
    return data[:at] + bytes([draw.randrange(256)]) + data[at + 1 :]


def _digit(data: bytes, draw: random.Random) -> bytes:
    places = [i for i, sign in enumerate(data) if 48 <= sign < 58]
    at = draw.choice(places)
    return data[:at] + bytes([draw.randrange(48, 58)]) + data[at + 1 :]


def _drop(data: bytes, draw: random.Random) -> bytes:
    at = draw.randrange(len(data))
    return data[:at] + data[at + draw.randint(1, 3) :]


def _put(data: bytes, draw: random.Random) -> bytes:
    at = draw.randrange(len(data))
    return data[:at] + draw.choice([*_JUNK, b",", b";", b"\n", b"\t", b" ", b"."]) + data[at:]


def _cut(data: bytes, draw: random.Random) -> bytes:
    return data[: draw.randrange(len(data) // 3, len(data))]


def _lines(change: Callable[[list[bytes], int, random.Random], None]) -> Mutate:
    def mutate(data: bytes, draw: random.Random) -> bytes:
        lines = data.split(b"\n")
        change(lines, draw.randrange(len(lines)), draw)
        return b"\n".join(lines)

    return mutate


def _lose(lines: list[bytes], at: int, _draw: random.Random) -> None:
    del lines[at]


def _double(lines: list[bytes], at: int, draw: random.Random) -> None:
    lines.insert(draw.randrange(len(lines)), lines[at])


def _swap(lines: list[bytes], at: int, draw: random.Random) -> None:
    other = draw.randrange(len(lines))
    lines[at], lines[other] = lines[other], lines[at]


def _field(lines: list[bytes], at: int, draw: random.Random) -> None:
    """Lose, double, replace or exchange a field of a line."""
    sign = max((b",", b";", b"\t"), key=lines[at].count)
    fields = lines[at].split(sign)
    one, other = draw.randrange(len(fields)), draw.randrange(len(fields))
    match draw.randrange(4):
        case 0:
            del fields[one]
        case 1:
            fields.insert(other, fields[one])
        case 2:
            fields[one] = draw.choice(_JUNK)
        case _ if b"rh" not in lines[at].lower() and b"umidity" not in lines[at]:
            # Of a header this would be another file, and a true one.
            fields[one], fields[other] = fields[other], fields[one]
    lines[at] = sign.join(fields)


MUTATIONS: tuple[Mutate, ...] = (
    _flip,
    _digit,
    _drop,
    _put,
    _cut,
    _lines(_lose),
    _lines(_double),
    _lines(_swap),
    _lines(_field),
    _lines(_field),
)


def broken(data: bytes, draw: random.Random) -> bytes:
    """Return a file's bytes with one to four things broken."""
    for _ in range(draw.randint(1, 4)):
        data = draw.choice(MUTATIONS)(data, draw) or b"\n"
    return data


def wrong(export: LoggerExport, truth: Truth) -> str:
    """Return what of a result was never measured; empty where it is the broken rows at most."""
    true = truth.points()
    lies = [
        point
        for channel in export.channels
        for point in channel.points()
        if not any(_is(point[1:], reading, truth.step_c) for reading in true.get(point[0], ()))
    ]
    return "" if len(lies) <= BROKEN_ROWS else f"{len(lies)} are untrue, such as {lies[:3]}"


def _is(
    point: tuple[float | None, float | None], reading: tuple[float, float], step_c: float
) -> bool:
    (warm, damp), (want_c, want_percent) = point, reading
    return (warm is None or abs(warm - want_c) <= 0.5 * step_c + 0.006) and (
        damp is None or abs(damp * 100 - want_percent) <= 0.5 * max(step_c, 0.1) + 0.01
    )


def asked(truth: Truth) -> Answers:
    return Answers(unit=truth.unit, zone=truth.zone, latest_year=2027)


def hold(count: int, folder: Path) -> tuple[int, int]:
    """Break files and hold what comes of them to the truth; how many were read, and refused."""
    draw = random.Random(20261130)  # noqa: S311 - the same files every time
    originals = {truth.name: (FOLDER / truth.name).read_bytes() for truth in TRUTHS}
    was_read = refused = 0
    for number in range(count):
        truth = TRUTHS[number % len(TRUTHS)]
        data = broken(originals[truth.name], draw)
        path = folder / f"{number % 4}-{truth.name}"
        path.write_bytes(data)
        try:
            export = read_export(path, asked(truth))
        except SourceError:
            refused += 1
            continue
        if truth.clock not in data:
            continue
        was_read += 1
        said = wrong(export, truth)
        assert not said, f"file {number}, {truth.name}: {said}\n{data!r}"
    return was_read, refused


@pytest.mark.parametrize("truth", TRUTHS[:-1], ids=lambda truth: truth.name)
def test_what_the_files_are_held_to_is_true_of_them(truth: Truth) -> None:
    export = read_export(FOLDER / truth.name, asked(truth))
    true = truth.points()
    for channel in export.channels:
        assert {at for at, _, _ in channel.points()} == set(true)
        for at, *point in channel.points():
            assert any(_is((point[0], point[1]), reading, truth.step_c) for reading in true[at])


def test_other_readings_are_told_from_the_true_ones() -> None:
    truth = TRUTHS[0]
    export = read_export(FOLDER / truth.name, asked(truth))
    later = truth._replace(waves=(truth.waves[0]._replace(start=utc("2026-11-30T03:15:00")),))
    damper = truth._replace(waves=(truth.waves[0]._replace(mean_percent=52.2),))
    warmer = truth._replace(waves=(truth.waves[0]._replace(mean_c=19.1),))
    assert wrong(export, truth) == ""
    assert all(wrong(export, other) for other in (later, damper, warmer))


def test_broken_files_give_true_readings_or_a_refusal(tmp_path: Path) -> None:
    was_read, refused = hold(FEW, tmp_path)
    # Neither side may be empty: a test in which nothing is read holds nothing.
    assert was_read > FEW // 4
    assert refused > FEW // 20


def test_a_mutated_workbook_gives_true_readings_or_a_refusal(
    tmp_path: Path, needs: Callable[[str], str]
) -> None:
    """As loggers' programs save them; what is in a cell has a type of its own there."""
    needs("openpyxl")
    library = importlib.import_module("openpyxl")
    truth = Truth("book.xlsx", (_UTC,), step_c=0.01)
    draw, ends = drawn("workbook"), Counter[str]()
    for number in range(count_of("workbook")):
        book = library.Workbook()
        rows: list[list[object]] = [["Time (UTC)", "Temp (°C)", "RH (%)"]]
        for at, warm, damp in _UTC.points():
            plain = at.astimezone(UTC).replace(tzinfo=None)
            rows.append([plain if number % 2 else f"{plain:%Y-%m-%d %H:%M:%S}", warm, damp])
        for _ in range(draw.randint(1, 4) if number > 1 else 0):
            _spoil_row(rows, draw)
        for row in rows:
            book.active.append(row)
        path = tmp_path / "book.xlsx"
        book.save(path)
        try:
            export = read_export(path, asked(truth))
        except SourceError:
            ends["refused"] += 1
            continue
        if rows[0][0] != "Time (UTC)":
            continue
        said = wrong(export, truth)
        assert not said, f"workbook {number}: {said}\n{rows}"
        ends["read"] += 1
    assert ends["read"]


def _spoil_row(rows: list[list[object]], draw: random.Random) -> None:
    """Change a cell of a sheet, or lose, double or exchange a row of it."""
    one, other = draw.randrange(len(rows)), draw.randrange(len(rows))
    row = rows[one]
    at = draw.randrange(len(row)) if row else 0
    match draw.randrange(8):
        case 0:
            del rows[one]
            rows.append([])
        case 1:
            rows.insert(other, list(row))
        case 2:
            rows[one], rows[other] = rows[other], rows[one]
        case 3 if row:
            row[at] = draw.choice((None, True, "", "--", -999, 1e300, "=A1", "#N/A", 45_000.5))
        case 4 if row:
            row[at] = draw.choice((datetime(1900, 1, 1), datetime(2026, 3, 11), 0, "12.5", "12,5"))  # noqa: DTZ001 - a sheet's own
        case _ if row:
            text = spoil_value(str(row[at]), draw)
            row[at] = re.sub(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff]", "", text)


@pytest.mark.long
def test_very_many_broken_files_do(tmp_path: Path) -> None:
    was_read, refused = hold(MANY, tmp_path)
    assert was_read > MANY // 4
    assert refused > MANY // 20
