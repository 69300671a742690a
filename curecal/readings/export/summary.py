"""What a logger's file was understood to say: in plain lines, in a line, and for machines."""

from __future__ import annotations

from array import array
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from curecal.readings.table.export_types import LoggerChannel, LoggerExport, readings_of
from curecal.words.layout import Line, TextRun, bullet, hanging, paragraph
from curecal.words.sentences import Words, whole
from curecal.words.values import clean

_INDENT = 15
_GAPS_SHOWN = 3
_BAD_SHOWN = 6
_LONGEST_HEAD = 60
_SHORT_S = 600
_SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab"}


def summary_lines(export: LoggerExport, words: Words, width: int) -> list[Line]:
    """Return how a file was understood, in lines no wider than `width`.

    Every sensor's readings, then how they were read, then what to look at.
    """
    lines: list[Line] = []
    for channel in export.channels:
        title = {
            "file": Path(export.name).name,
            "device": channel.device,
            "reading_count": len(channel),
        }
        lines += paragraph(words.text("readings.title", title), width, style="head")
        lines += _labeled(channel_facts(channel, words), words, width)
        lines.append(())
    lines += _labeled(file_facts(export, words), words, width)
    if export.findings:
        lines += [(), (TextRun(words.text("readings.see"), "head"),)]
    for finding in export.findings:
        said, do = words.finding(finding)
        lines += bullet(f"{whole(said)} {do}", width, style="warn")
    return lines


def _labeled(pairs: Iterator[tuple[str, str]], words: Words, width: int) -> list[Line]:
    lines: list[Line] = []
    for label, text in pairs:
        lines += hanging(words.text(f"readings.label-{label}"), text, width, indent=_INDENT)
    return lines


def channel_facts(channel: LoggerChannel, words: Words) -> Iterator[tuple[str, str]]:
    """Yield what a sensor's readings are: the key of a label, and the fact in words."""
    span = {
        "first_at": channel.first,
        "last_at": channel.last,
        "every": interval_text(channel, words),
    }
    yield "span", words.text("readings.span", span)
    for name, values, unit in (
        ("temperature", channel.temperature_c, "c"),
        ("humidity", channel.humidity, "rh"),
    ):
        low, high = least_and_most(values)
        if low is None:
            yield name, words.text("readings.temperature-none")
        else:
            ends = {f"low_{unit}": low, f"high_{unit}": high}
            yield name, words.text(f"readings.{name}", ends)
    yield "gaps", _gaps(channel, words)


def interval_text(channel: LoggerChannel, words: Words) -> str:
    """Return a channel's interval, to the second where it is no whole minutes."""
    interval_s = channel.interval_s
    if interval_s % 60 and interval_s < _SHORT_S:
        return words.text("readings.seconds", {"second_count": interval_s})
    return words.text("readings.interval", {"interval_s": interval_s})


def _gaps(channel: LoggerChannel, words: Words) -> str:
    gaps = channel.gaps()
    if not gaps:
        return words.text("readings.gaps-none")
    longest = sorted(gaps, key=lambda gap: gap.start - gap.end)[:_GAPS_SHOWN]
    shown = [
        words.text(
            "readings.gap",
            {
                "start_at": gap.start,
                "end_at": gap.end,
                "gap_s": (gap.end - gap.start).total_seconds(),
            },
        )
        for gap in sorted(longest, key=lambda gap: gap.start)
    ]
    more = len(gaps) - len(shown)
    if more:
        shown.append(words.text("readings.bad-more", {"more_count": more}))
    return words.text("readings.gaps", {"gap_count": len(gaps), "gaps": "; ".join(shown)})


def file_facts(export: LoggerExport, words: Words) -> Iterator[tuple[str, str]]:
    """Yield how a file was read: the key of a label, and the fact in words."""
    columns = [
        words.text(
            "readings.column",
            {"text": f'"{_short(text)}"', "role": words.text(f"readings.role.{role or 'unused'}")},
        )
        for text, role in export.columns
    ]
    yield "columns", ", ".join(columns)
    yield "unit", unit_text(export, words)
    yield "dates", order_text(export, words)
    yield "clock", clock_text(export, words)
    if export.events:
        yield "skipped", words.text("readings.skipped", {"row_count": export.events})
    yield "bad", _bad(export, words)
    line = {"line": export.data_line, "encoding": export.encoding}
    if export.separator:
        separator = words.text(f"readings.separator.{_SEPARATORS[export.separator]}")
        yield "file", words.text("readings.file", {**line, "separator": separator})
    else:
        yield "file", words.text("readings.file-workbook", line)


def unit_text(export: LoggerExport, words: Words) -> str:
    """Return the unit of the temperatures and where it comes from."""
    known = export.unit
    unit = " / ".join(f"°{unit}" for unit in known.value)
    return words.text(f"readings.unit.{known.by}", {"unit": unit, "words": _short(known.words)})


def order_text(export: LoggerExport, words: Words) -> str:
    """Return the order of the dates and its evidence."""
    known = export.order
    params = {"order": known.value, "words": known.words}
    return words.text(f"readings.order.{known.by.replace(' ', '-')}", params)


def clock_text(export: LoggerExport, words: Words) -> str:
    """Return the logger's clock and where it comes from."""
    known = export.zone
    params = {"zone": known.value, "words": _short(known.words)}
    return words.text(f"readings.clock.{known.by}", params)


def _bad(export: LoggerExport, words: Words) -> str:
    bad = export.bad
    if not bad.count:
        return words.text("readings.bad-none")
    shown = [f"{line} ({words.text(f'readings.why.{why}')})" for line, why in bad.lines]
    more = bad.count - len(shown[:_BAD_SHOWN])
    listed = shown[:_BAD_SHOWN]
    if more:
        listed.append(words.text("readings.bad-more", {"more_count": more}))
    return words.text("readings.bad", {"bad_count": bad.count, "lines": ", ".join(listed)})


def _short(text: str) -> str:
    plain = clean(text)
    return plain if len(plain) <= _LONGEST_HEAD else plain[: _LONGEST_HEAD - 1] + "…"


def summarize(export: LoggerExport, channel: LoggerChannel, words: Words) -> str:
    """Return in one line how a file was understood, to stand in the job's log."""
    params = {
        "file": Path(export.name).name,
        "unit": unit_text(export, words),
        "order": order_text(export, words),
        "clock": clock_text(export, words),
        "every": interval_text(channel, words),
        "gap_count": len(channel.gaps()),
        "event_count": export.events,
        "bad_count": export.bad.count,
    }
    return words.text("readings.understood", params)


def least_and_most(values: array[float]) -> tuple[float | None, float | None]:
    """Return the least and the most of a column's readings, None where there is none."""
    low = min(readings_of(values), default=None)
    return low, (None if low is None else max(readings_of(values)))


def export_json(export: LoggerExport, words: Words) -> dict[str, object]:
    """Return what a file was understood to say, for machines: SI, instants in UTC."""
    return {
        "file": export.name,
        "encoding": export.encoding,
        "separator": export.separator or None,
        "first_line": export.data_line,
        "unit": {"is": export.unit.value, "from": export.unit.by, "words": export.unit.words},
        "order": {"is": export.order.value, "from": export.order.by, "words": export.order.words},
        "clock": {"is": export.zone.value, "from": export.zone.by, "words": export.zone.words},
        "columns": [{"name": name, "role": role or "unused"} for name, role in export.columns],
        "rows_without_reading": export.events,
        "lines_not_read": {
            "count": export.bad.count,
            "first": [{"line": line, "why": why} for line, why in export.bad.lines],
        },
        "devices": [_channel_json(channel) for channel in export.channels],
        "findings": [
            {
                "severity": finding.severity.value,
                "code": finding.code,
                "message": whole(words.finding(finding)[0]),
                "do": words.finding(finding)[1],
            }
            for finding in export.findings
        ],
    }


def _channel_json(channel: LoggerChannel) -> dict[str, object]:
    low_c, high_c = least_and_most(channel.temperature_c)
    low, high = least_and_most(channel.humidity)
    return {
        "device": channel.device,
        "readings": len(channel),
        "first": utc_text(channel.first),
        "last": utc_text(channel.last),
        "interval_s": channel.interval_s,
        "lowest_c": low_c,
        "highest_c": high_c,
        "lowest_humidity": low,
        "highest_humidity": high,
        "gaps": [{"from": utc_text(gap.start), "to": utc_text(gap.end)} for gap in channel.gaps()],
    }


def utc_text(at: datetime) -> str:
    """Return an instant in UTC for machines."""
    return at.strftime("%Y-%m-%dT%H:%M:%SZ")
