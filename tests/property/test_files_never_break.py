"""Whatever stands in a file: a result with findings, or an error; never a traceback."""

from __future__ import annotations

from datetime import UTC, date, datetime, time

from hypothesis import given
from hypothesis import strategies as st

from curecal.errors import SourceError
from curecal.job_files import parse_job
from curecal.toml_files.log_schema import BASE, KINDS
from curecal.toml_files.schema import TABLES, Key
from curecal.trade.findings import Severity
from curecal.words.report.report import refused_lines
from curecal.words.sentences import plain_words

EXAMPLES = sorted(
    {
        key.example.strip('"')
        for keys in (*TABLES.values(), BASE, *KINDS.values())
        for key in keys
        if key.example.startswith('"')
    }
)
CHOICES = sorted(
    {
        str(word)
        for keys in (*TABLES.values(), *KINDS.values())
        for key in keys
        for word in key.choices
    }
)
texts = st.one_of(
    st.sampled_from(EXAMPLES),
    st.sampled_from(CHOICES),
    st.sampled_from(["", "drying", "thinset", "0 °C", "-1 mm", "1e300 d", "66 °C", "12 mm", "OL"]),
    st.text(max_size=20),
)
scalars = st.one_of(
    texts,
    st.booleans(),
    st.integers(),
    st.floats(),
    st.dates(),
    st.datetimes(),
    st.datetimes(timezones=st.just(UTC)),
    st.sampled_from([time(8), date(9999, 12, 31), datetime(1, 1, 1), 10**400]),  # noqa: DTZ001 - a local time is meant
)
anything = st.recursive(
    scalars,
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(texts, inner, max_size=3)),
    max_leaves=6,
)


def table_of(keys: tuple[Key, ...]) -> st.SearchStrategy[dict[str, object]]:
    """Return tables that hold known keys, each with anything or what it should hold."""
    # Of a name that stands twice, as `from` of a span does, the kind's own key counts.
    required = {key.name: value_of(key) for key in keys if key.required}
    free = {key.name: value_of(key) for key in keys if key.name not in required}
    return st.fixed_dictionaries(required, optional=free)


def value_of(key: Key) -> st.SearchStrategy[object]:
    good = st.just(key.example.strip('"'))
    if key.choices:
        good = st.sampled_from([str(word) for word in key.choices])
    return st.one_of(good, good, good, anything)


def rows(strategy: st.SearchStrategy[dict[str, object]]) -> st.SearchStrategy[object]:
    return st.one_of(st.lists(strategy, max_size=3), anything)


layers = rows(table_of(TABLES["layer"]))
zones = st.builds(
    lambda zone, inner: {**zone, **inner},
    table_of(tuple(key for key in TABLES["zone"] if key.name != "layer")),
    st.fixed_dictionaries(
        {"layer": layers},
        optional={
            "heating": table_of(TABLES["heating"]),
            "covering": table_of(TABLES["covering"]),
            "heat_up": table_of(TABLES["heat_up"]),
        },
    ),
)
materials = st.builds(
    lambda material, wait: {**material, "wait": wait},
    table_of(TABLES["material"]),
    st.one_of(table_of(TABLES["wait"]), anything),
)
entries = st.sampled_from(sorted(KINDS)).flatmap(
    lambda kind: st.builds(lambda entry: {**entry, "kind": kind}, table_of((*BASE, *KINDS[kind])))
)
files = st.fixed_dictionaries(
    {},
    optional={
        "job": st.one_of(table_of(TABLES["job"]), anything),
        "expected": st.one_of(table_of(TABLES["expected"]), anything),
        "work": st.one_of(table_of(TABLES["work"]), anything),
        "people": st.dictionaries(
            st.sampled_from(["owner", "crew_lead", "x"]), rows(table_of(TABLES["person"]))
        ),
        "zone": rows(zones),
        "material": st.dictionaries(texts, st.one_of(materials, anything), max_size=2),
        "sensor": st.dictionaries(
            texts, st.one_of(table_of(TABLES["sensor"]), anything), max_size=2
        ),
        "log": rows(entries),
        "surplus": anything,
    },
)


def toml(value: object) -> str:
    """Return a value as TOML."""
    text = str(value)
    match value:
        case bool():
            text = text.lower()
        case int():
            text = hex(value) if value > 2**63 else text
        case datetime() | date() | time():
            text = value.isoformat()
        case list():
            text = f"[{', '.join(toml(each) for each in value)}]"
        case dict():
            inner = ", ".join(f"{toml(str(key))} = {toml(each)}" for key, each in value.items())
            text = f"{{ {inner} }}"
        case str():
            signs = (
                sign if sign.isalnum() or sign in " °%-/.,:" else f"\\U{ord(sign):08X}"
                for sign in value
            )
            text = f'"{"".join(signs)}"'
    return text


@given(content=files)
def test_any_table_is_read_or_refused(content: dict[str, object]) -> None:
    text = "\n".join(f"{key} = {toml(value)}" for key, value in content.items())
    try:
        found = parse_job(text.encode("utf-8", "replace"), clock=datetime(2026, 12, 1, tzinfo=UTC))
    except SourceError:
        return
    errors = [finding for finding in found.findings if finding.severity is Severity.ERROR]
    assert (found.job is None) == bool(errors)
    # Whatever is found can be said.
    assert refused_lines(found.findings, found.raw, plain_words(), 80)


@given(data=st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    try:
        found = parse_job(data)
    except SourceError as error:
        assert error.params["path"] == "job.toml"  # noqa: PT017 - either end is right
        return
    assert found.job is None
    assert found.findings
