"""What is found while a file is read: every problem is kept, none ends the reading."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, tzinfo
from functools import cache
from typing import Any

from curecal import units
from curecal.errors import ErrorCode, InstantRefused, ValueRefused
from curecal.instants import end_of_day, local_day
from curecal.records import PlainTable, Record, record
from curecal.toml_files.log_schema import BASE, KINDS
from curecal.toml_files.schema import MOST_NAME, MOST_TEXT, TABLES, Key
from curecal.toml_files.shown import nearest, shorten
from curecal.toml_files.spans import USUAL_WAIT_S, WAIT_S, meant
from curecal.toml_files.time_zones import REGIONAL
from curecal.toml_files.unusual_values import find_unusual
from curecal.toml_files.values import READERS, instant, text_of, wrong_type
from curecal.toml_files.working_time import working_time
from curecal.trade.findings import Finding, Severity
from curecal.trade.sources import Basis, Source
from curecal.words.catalogue import languages

Table = PlainTable
_EMPTY: Table = {}
_TIMES_OF_SITE = frozenset({"at", "done", "planned_start", "planned_finish"})
# What TOML promises of a whole number: 64 bits.
_LARGEST = 2**63
# Our own tables are five deep; a deeper one is an attack on whoever walks through it.
_DEEPEST = 12
_LONG_TEXTS = frozenset({"note", "text", "understood"})
_NAMES = frozenset({"name", "id", "part", "cable", "layer", "zone", "by", "material", "wait_from"})
_DIRECTIONS = frozenset("\u2028\u2029\u200e\u200f\u061c")


@dataclass
class TableReader:
    """Reads a file's tables: the findings so far, and what a value's meaning needs of the job."""

    findings: list[Finding] = field(default_factory=list)
    tz: tzinfo = UTC
    clock: datetime | None = None
    day_s: float = 9 * 3600.0
    days_a_week: int = 5

    def find(
        self, severity: Severity, code: str, path: str, params: Mapping[str, object] | None = None
    ) -> None:
        """Keep a finding."""
        self.findings.append(Finding(severity, code, path, params or {}))

    def refused(self, error: ValueRefused, path: str) -> None:
        """Keep a refusal as an error at a place."""
        instants = {k: value for k, value in error.params.items() if isinstance(value, datetime)}
        self.find(Severity.ERROR, error.code, path, {**error.params, **self.offsets(**instants)})

    def local(self, **instants: datetime) -> dict[str, object]:
        """Return instants under `…_at`, in the site's zone.

        Where a file is not understood there is no job, and its reader knows no time zone.
        """
        return {f"{name}_at": at.astimezone(self.tz) for name, at in instants.items()}

    def offsets(self, **instants: datetime) -> dict[str, object]:
        """Return instants as they are typed with their offset, and as they are under `…_at`."""
        typed: dict[str, object] = {
            name: at.astimezone(self.tz).isoformat(" ", "minutes") for name, at in instants.items()
        }
        return typed | {f"{name}_at": at for name, at in instants.items()}

    def is_today(self, at: datetime, written: object) -> bool:
        """Return whether a day without an hour is the site's present one.

        It counts from its end, which lies ahead, and is no slip for all that.

        Rule: R27.
        """
        has_hour = isinstance(written, datetime) or ":" in str(written)
        if self.clock is None or has_hour or at <= self.clock:
            return False
        return at == end_of_day(local_day(self.clock, self.tz), self.tz)

    @property
    def has_error(self) -> bool:
        """Return whether anything was not understood."""
        return any(finding.severity is Severity.ERROR for finding in self.findings)


@record
class Read(Record):
    """A table as read: what was understood by key, the table itself, and its place."""

    values: Table
    raw: Table
    path: str

    def get(self, key: str, default: Any = None) -> Any:
        """Return what was read at a key."""
        return self.values.get(key, default)

    def at(self, key: str) -> str:
        """Return the place of a key."""
        return f"{self.path}.{key}" if self.path else key

    def __contains__(self, key: str) -> bool:
        return key in self.values

    def source(self) -> Source | None:
        """Return the data sheet this table names."""
        named = self.values.get("data_sheet")
        return None if named is None else Source(Basis.DATA_SHEET, named)


def read_table(
    reader: TableReader, raw: Table, kind: str, path: str, more: tuple[Key, ...] = ()
) -> Read:
    """Return a table's values; unknown keys, missing ones and unreadable ones are found.

    Args:
        reader: Where findings are kept.
        raw: The table.
        kind: Which of `keys.TABLES` it is.
        path: Its place.
        more: Further keys it may hold.

    Returns:
        What was understood.
    """
    keys = _by_name(kind)
    if more:
        keys = {**keys, **{key.name: key for key in more}}
    read = Read({}, raw, path)
    for name, value in raw.items():
        key = keys.get(name)
        if key is None:
            params = {
                "text": shorten(name),
                "nearest": nearest(name, list(keys)),
                "known": ", ".join(keys),
            }
            reader.find(Severity.ERROR, "key-unknown", read.at(name), params)
            continue
        try:
            read.values[name] = _value(reader, value, key, read.at(name))
        except ValueRefused as error:
            reader.refused(error, read.at(name))
    for key in keys.values():
        if key.required and key.name not in raw:
            table = key.reads in {"table", "tables"}
            example = key.example if table else f"{key.name} = {key.example}"
            missing = {"key": key.name, "means": key.means, "example": example}
            reader.find(Severity.ERROR, "key-missing", read.at(key.name), missing)
    return read


@cache
def _by_name(kind: str) -> dict[str, Key]:
    return {key.name: key for key in _keys(kind)}


def _keys(kind: str) -> tuple[Key, ...]:
    form, _, entry = kind.partition(" ")
    if kind == "log entry":
        return BASE
    return (*BASE, *KINDS[entry]) if form == "log" and entry in KINDS else TABLES[kind]


def _value(reader: TableReader, value: object, key: Key, path: str) -> object:
    form = key.reads
    if form in {"table", "named", "tables", "people"}:
        return _tables(value, key)
    if form == "raw":
        return value
    if form == "instant":
        return _instant(reader, value, path)
    if form == "language":
        return _language(reader, value, key, path)
    if form == "work":
        return working_time(value, reader.day_s, reader.days_a_week)
    found = (REGIONAL.get(form) or READERS[form])(value, key)
    if form == "wait" and isinstance(found, float):
        ask_long_wait(reader, found, value, path)
    for unusual in find_unusual(form, found, value):
        params = {"text": unusual.text, "usual": unusual.usual, "meant": unusual.meant}
        reader.find(Severity.WARNING, "value-unusual", path, params)
    return found


def ask_long_wait(reader: TableReader, time_s: float, value: object, path: str) -> None:
    """Note a wait that is longer than nearly any maker's: hours may have become days."""
    if time_s > USUAL_WAIT_S:
        likely = meant(value, units.duration, WAIT_S[0], USUAL_WAIT_S)
        params = {"text": shorten(value), "usual_s": USUAL_WAIT_S, "meant": likely}
        reader.find(Severity.WARNING, "wait-long", path, params)


def ask_short_wait(
    reader: TableReader, time_s: float, least_s: float, value: object, path: str
) -> None:
    """Note a wait that is shorter than nearly any maker's: a unit or a decimal point slipped."""
    if not time_s >= least_s:
        likely = meant(value, units.duration, least_s, USUAL_WAIT_S)
        params = {"text": shorten(value), "usual_s": least_s, "meant": likely}
        reader.find(Severity.WARNING, "wait-short", path, params)


def _instant(reader: TableReader, value: object, path: str) -> datetime:
    """Return an instant; of a time the clock shows twice the later, until the person says.

    Rule: R27.
    """
    try:
        at = instant(value, reader.tz)
    except InstantRefused as error:
        later = error.params.get("second")
        if error.code != ErrorCode.INSTANT_FOLD or not isinstance(later, datetime):
            raise
        instants = {k: at for k, at in error.params.items() if isinstance(at, datetime)}
        params = {**error.params, **reader.offsets(**instants)}
        reader.find(Severity.WARNING, "instant-twice", path, params)
        return later
    _ask_offset(reader, value, at, path)
    return at


def _ask_offset(reader: TableReader, value: object, at: datetime, path: str) -> None:
    """Note a time written with an offset that the site's clock does not have: hours may be off.

    Programs write entries of the log in UTC; a finish in UTC is a slip.

    Rule: R27.
    """
    key = path.rpartition(".")[2]
    offset = value.utcoffset() if isinstance(value, datetime) else None
    if key not in _TIMES_OF_SITE or offset is None or (key == "at" and not offset):
        return
    if offset != at.astimezone(reader.tz).utcoffset():
        params = {"text": shorten(value), **reader.local(site=at)}
        reader.find(Severity.WARNING, "offset-not-site", path, params)


def _language(reader: TableReader, value: object, key: Key, path: str) -> str | None:
    """Return a language there are texts in; None for one there are not, as if none were given.

    Source: RFC 5646, 2.1.1 (small and large letters are alike); RFC 4647, 3.4 ("de-AT" finds
    "de").
    """
    wished, known = text_of(value, key), languages()
    name = wished.lower().partition("-")[0]
    if name in known:
        return name
    params = {"text": shorten(wished), "known": ", ".join(known)}
    reader.find(Severity.WARNING, "language-not-there", path, params)
    return None


def _tables(value: object, key: Key) -> object:
    """Return a table, or a list of tables where several are meant."""
    form = key.reads
    if form in {"table", "named"}:
        if not isinstance(value, dict):
            raise wrong_type(value, "table", key.example)
        if form == "named" and not all(isinstance(inner, dict) for inner in value.values()):
            raise wrong_type(value, "tables-by-name", key.example)
        return value
    rows = [value] if form == "people" and isinstance(value, dict) else value
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise wrong_type(value, "tables", key.example)
    return rows


def table_in(read: Read, key: str) -> Table:
    """Return the table at a key, empty where there is none."""
    found = read.get(key)
    return found if isinstance(found, dict) else _EMPTY


def clean_table(reader: TableReader, raw: Table) -> Table:
    """Return a file's content without what no reader should meet; each such place is found.

    Control characters, endless texts, numbers that are none or larger than any quantity.
    """
    found = _clean(reader, raw, "", "", 0)
    return found if isinstance(found, dict) else {}


_DROPPED = object()


def _clean(reader: TableReader, value: object, path: str, key: str, depth: int) -> object:
    if depth > _DEEPEST:
        reader.find(Severity.ERROR, "nested-too-deeply", path, {})
        return _DROPPED
    if isinstance(value, dict):
        pairs = [
            (
                _key(reader, name, path),
                _clean(reader, inner, _join(path, name), name, depth + 1),
            )
            for name, inner in value.items()
        ]
        return {name: inner for name, inner in pairs if inner is not _DROPPED}
    if isinstance(value, list):
        items = [
            _clean(reader, inner, _join(path, str(index)), key, depth + 1)
            for index, inner in enumerate(value)
        ]
        return [item for item in items if item is not _DROPPED]
    if isinstance(value, str):
        return _text(reader, value, path, key)
    return _number(reader, value, path)


def _number(reader: TableReader, value: object, path: str) -> object:
    """Return what is neither text nor table; a number that no quantity has is dropped."""
    if isinstance(value, float) and not math.isfinite(value):
        reader.find(Severity.ERROR, "number-not-finite", path, {"text": shorten(value)})
        return _DROPPED
    if isinstance(value, int) and not -_LARGEST < value < _LARGEST:
        reader.find(Severity.ERROR, "number-too-large", path, {})
        return _DROPPED
    return value


def _join(path: str, name: str) -> str:
    short = name if len(name) <= MOST_NAME else name[:MOST_NAME]
    return f"{path}.{short}" if path else short


def _key(reader: TableReader, name: str, path: str) -> str:
    """Return the name of a key, without signs that nobody sees."""
    if name.isprintable():
        return name[:MOST_NAME]
    bad = [sign for sign in name if _is_control(sign)]
    if bad:
        params = {"sign": f"U+{ord(bad[0]):04X}"}
        reader.find(Severity.ERROR, "control-character-in-key", path, params)
    return "".join(sign for sign in name if sign not in bad)[:MOST_NAME]


def _text(reader: TableReader, text: str, path: str, key: str) -> str:
    most = MOST_NAME if key in _NAMES else MOST_TEXT
    if len(text) > most:
        params: dict[str, object] = {"key": key, "length_count": len(text), "most_count": most}
        reader.find(Severity.ERROR, "text-too-long", path, params)
        text = text[:most]
    # What prints holds no sign that nobody sees: most texts are looked through only once.
    if text.isprintable():
        return text
    allowed = "\n\r\t" if key in _LONG_TEXTS else ""
    bad = [sign for sign in text if _is_control(sign) and sign not in allowed]
    if bad:
        params = {"key": key, "sign": f"U+{ord(bad[0]):04X}"}
        reader.find(Severity.ERROR, "control-character", path, params)
        text = "".join(sign for sign in text if sign not in bad)
    return text


def _is_control(sign: str) -> bool:
    return sign in _DIRECTIONS or unicodedata.category(sign) in {"Cc", "Cf", "Cs"}
