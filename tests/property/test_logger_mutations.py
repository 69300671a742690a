"""Loggers' files with something broken in them: their readings or a refusal, and nothing else.

What is never allowed is a crash, and readings in another unit or under another order of dates than
the file was written in: such readings would be months or tens of degrees from the true ones.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import NamedTuple
from zoneinfo import ZoneInfo

import pytest

from curecal.errors import SourceError
from curecal.readings.export.read_export import read_export
from curecal.readings.table.export_types import Answers, Export

FOLDER = Path(__file__).parents[1] / "files_of_loggers"
FEW, MANY = 400, 20_000
_JUNK = (b"", b"--", b"-999", b"1e5", b"nan", b"0", b"12/12/12", b"99:99", b"\xff", b'"', b"_1")


class Truth(NamedTuple):
    """When a look-alike's readings were taken, and between which temperatures they lie."""

    name: str
    first: datetime
    last: datetime
    low_c: float
    high_c: float


def _truth(name: str, first: str, hours: float, low_c: float, high_c: float) -> Truth:
    start = datetime.fromisoformat(first).replace(tzinfo=UTC)
    return Truth(name, start, start + timedelta(hours=hours), low_c, high_c)


TRUTHS = (
    _truth("shape_1.csv", "2026-11-30T03:00", 15, 17.4, 20.6),
    _truth("shape_2.txt", "2012-10-11T12:00", 10, 16.4, 19.6),
    _truth("shape_3.csv", "2026-10-26T01:00", 15, 15.4, 18.6),
    _truth("shape_4_quoted.csv", "2026-11-02T04:00", 25, 16.4, 25.6),
    _truth("shape_4_bare.csv", "2026-11-02T04:00", 25, 16.4, 25.6),
    _truth("shape_6.csv", "2026-09-29T23:00", 25, 18.4, 21.6),
    _truth("shape_7.csv", "2026-11-10T02:00", 15, 12.4, 15.6),
    _truth("decimal_comma.csv", "2026-11-14T00:00", 10, 17.4, 20.6),
    _truth("utf16_tabs.txt", "2026-11-14T00:00", 10, 17.4, 20.6),
    _truth("unit_by_row.csv", "2026-11-13T20:00", 5, 17.4, 20.6),
    # Day first, which nothing in it shows: to be refused, or read so by what was broken.
    _truth("ambiguous_order.csv", "2026-04-03T07:00", 8, 17.4, 20.6),
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
        case _ if b"RH" not in lines[at] and b"umidity" not in lines[at]:
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


def wrong(export: Export, truth: Truth) -> str:
    """Return what makes a result another file's, empty where four in five of it are true.

    A broken row may be read as another row; a file of some dozen has a few of them at most.
    """
    points = [point for channel in export.channels for point in channel.points()]
    day = timedelta(days=1)
    dated = sum(truth.first - day <= at <= truth.last + day for at, _, _ in points)
    if 5 * dated < 4 * len(points):
        return f"{dated} of {len(points)} are of their time ({export.order})"
    warm = [each for _, each, _ in points if each is not None]
    true = sum(truth.low_c - 0.1 <= each <= truth.high_c + 0.1 for each in warm)
    return "" if 5 * true >= 4 * len(warm) else f"{true} of {len(warm)} are true ({export.unit})"


def _clock(name: str) -> ZoneInfo | None:
    """The logger's clock, as a person would say it: nothing where the file has its own."""
    if name in {"shape_1.csv", "unit_by_row.csv"}:
        return None
    return ZoneInfo("America/New_York" if name == "shape_2.txt" else "America/Halifax")


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
        asked = Answers(zone=_clock(truth.name), latest_year=2027)
        try:
            export = read_export(path, asked)
        except SourceError:
            refused += 1
            continue
        was_read += 1
        said = wrong(export, truth)
        assert not said, f"file {number}, {truth.name}: {said}\n{data!r}"
    return was_read, refused


def test_what_the_files_are_held_to_is_true_of_them() -> None:
    for truth in TRUTHS[:-1]:
        export = read_export(FOLDER / truth.name, Answers(zone=_clock(truth.name)))
        points = [point for channel in export.channels for point in channel.points()]
        assert all(truth.first <= at <= truth.last for at, _, _ in points)
        assert all(warm is None or truth.low_c <= warm <= truth.high_c for _, warm, _ in points)


def test_broken_files_give_true_readings_or_a_refusal(tmp_path: Path) -> None:
    was_read, refused = hold(FEW, tmp_path)
    # Neither side may be empty: a test in which nothing is read holds nothing.
    assert was_read > FEW // 4
    assert refused > FEW // 20


@pytest.mark.slow
def test_very_many_broken_files_do(tmp_path: Path) -> None:
    was_read, refused = hold(MANY, tmp_path)
    assert was_read > MANY // 4
    assert refused > MANY // 20
