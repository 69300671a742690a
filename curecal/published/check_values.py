"""Published check values, read from the package's own data. Evaluates nothing."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

import tomli

from curecal.errors import SourceError
from curecal.records import Record, record
from curecal.shipped import DATA

MARKS = ("seen", "reference library", "computed", "from memory")
"""Where an expected value comes from: the four marks, best first."""

_DAMAGED = "published-data-damaged"
_TEXTS = ("id", "group", "quantity", "equation", "unit", "why_tolerance", "source", "mark")
_KEYS = frozenset({*_TEXTS, "inputs", "expected", "tolerance"})


@record(kw_only=True)
class PublishedCheck(Record):
    """One value from print, a library or a formula, and how near the program must come to it.

    Attributes:
        id: Its name, once in the file.
        group: Heading it stands under.
        quantity: What it is, in words.
        equation: Name of the equation that computes it.
        inputs: What goes in; each key ends in its unit.
        expected: The value [unit].
        unit: Unit of the value.
        tolerance: Largest difference that still agrees [unit].
        why_tolerance: Why it is that large.
        source: Where the value comes from.
        mark: How far the source is to be trusted, one of `MARKS`.
    """

    id: str
    group: str
    quantity: str
    equation: str
    inputs: Mapping[str, object]
    expected: float
    unit: str
    tolerance: float
    why_tolerance: str
    source: str
    mark: str

    def holds_for(self, computed: float) -> bool:
        """Return whether a computed value agrees; NaN never does."""
        return abs(computed - self.expected) <= self.tolerance


def published_checks() -> tuple[PublishedCheck, ...]:
    """Return every published check the package carries, in the file's order.

    Raises:
        SourceError: The package's data is damaged.
    """
    try:
        content = DATA.joinpath("published.toml").read_bytes()
    except OSError as error:
        raise SourceError(_DAMAGED, what="unreadable") from error
    return parse_checks(content)


def parse_checks(content: bytes) -> tuple[PublishedCheck, ...]:
    """Return the checks in a file's content, TOML in UTF-8, in order.

    Raises:
        SourceError: It is not such a file; a check without a source is none.
    """
    try:
        table = tomli.loads(content.decode("utf-8-sig"))
    except (UnicodeDecodeError, tomli.TOMLDecodeError) as error:
        raise SourceError(_DAMAGED, what="not TOML in UTF-8") from error
    rows = table.get("check")
    if not isinstance(rows, list) or set(table) != {"check"}:
        raise SourceError(_DAMAGED, what="no list of checks")
    checks = tuple(_check(index, row) for index, row in enumerate(rows))
    if len({check.id for check in checks}) != len(checks):
        raise SourceError(_DAMAGED, what="an id stands twice")
    return checks


def _check(index: int, row: object) -> PublishedCheck:
    if not isinstance(row, dict) or set(row) != _KEYS:
        raise SourceError(_DAMAGED, what="keys", index=index)
    if not all(isinstance(row[key], str) and row[key].strip() for key in _TEXTS):
        raise SourceError(_DAMAGED, what="texts", index=index)
    if row["mark"] not in MARKS:
        raise SourceError(_DAMAGED, what="mark", index=index)
    if not isinstance(row["inputs"], dict):
        raise SourceError(_DAMAGED, what="inputs", index=index)
    expected = _finite(row["expected"], index)
    texts = {key: row[key] for key in _TEXTS}
    return PublishedCheck(
        **texts,
        inputs=MappingProxyType(row["inputs"]),
        expected=expected,
        tolerance=_tolerance(row["tolerance"], expected, index),
    )


def _tolerance(value: object, expected: float, index: int) -> float:
    match value:
        case {"absolute": amount, **others} if not others:
            tolerance = _finite(amount, index)
        case {"relative": amount, **others} if not others:
            tolerance = _finite(amount, index) * abs(expected)
        case _:
            raise SourceError(_DAMAGED, what="tolerance", index=index)
    if not tolerance > 0.0:
        raise SourceError(_DAMAGED, what="tolerance", index=index)
    return tolerance


def _finite(value: object, index: int) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise SourceError(_DAMAGED, what="number", index=index)
    return float(value)
