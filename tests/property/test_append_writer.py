"""Laws of adding to a log: what is written is what is read, behind every byte that was there."""

from __future__ import annotations

import tempfile
from datetime import UTC, date, datetime, time, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest
import tomli
from hypothesis import given
from hypothesis import strategies as st

from curecal.errors import SourceError, ValueRefused
from curecal.site_log_files.append import append_entry
from curecal.site_log_files.entry_toml import block, settled

BASE = frozenset({"at", "kind", "id", "recorded"})
AT = datetime(2026, 11, 30, 20, tzinfo=UTC)
VISIBLE = st.characters(exclude_categories=["Cs", "Cc"], include_characters="\n\r\t")
OFFSETS = st.integers(-23 * 60, 23 * 60).map(lambda each: timezone(timedelta(minutes=each)))
SCALARS = st.one_of(
    st.text(VISIBLE, max_size=40),
    st.booleans(),
    st.integers(-(2**63), 2**63 - 1),
    st.floats(allow_nan=False, allow_infinity=False),
    st.datetimes(timezones=OFFSETS),
    st.datetimes(),
    st.dates(),
)
VALUES = st.one_of(SCALARS, st.lists(st.one_of(SCALARS, st.lists(SCALARS, max_size=3)), max_size=4))
KEYS = st.one_of(st.from_regex(r"[a-z_]{1,8}", fullmatch=True), st.text(VISIBLE, max_size=8))
ENTRIES = st.dictionaries(KEYS, VALUES, max_size=6)
# Before time zones, offsets held seconds, which TOML has not.
EARLIEST = datetime.combine(date(1980, 1, 1), time())
ANY = st.text(st.characters(), max_size=30)

# Files that people have, cut and joined at will: a piece ends where a line of it may end.
PIECES = st.sampled_from(
    [
        "# a comment",
        "# [[log]]",
        "",
        "   ",
        "[[log]]",
        'kind = "air"  # beside a value',
        "at = 2026-11-30T16:00:00-04:00",
        "[[zone]]",
        'name = "hall"',
        "[zone.heating]",
        '[[zone.layer]]\nname = "bed"',
        'text = """\n[[log]]\nof a text"""',
        "notes = '''\n# no comment'''",
        "log = []",
        'log = [{ kind = "air" }]',
        "[log]",
        "[[log.kind]]",
        "[log.kind]",
        "log.kind = 3",
        "x = [\n  1, # one\n  2\n]",
        '"log" = 1',
        "[job]",
    ]
)
ENDS = st.sampled_from(["\n", "\r\n"])


@st.composite
def files(draw: st.DrawFn) -> bytes:
    """Return a file of such pieces, of which many are no TOML and some are."""
    lines = draw(st.lists(st.tuples(PIECES, ENDS), min_size=1, max_size=8))
    text = "".join(piece.replace("\n", end) + end for piece, end in lines)
    if draw(st.booleans()):
        text = text[: -len(lines[-1][1])]
    return (draw(st.sampled_from(["", "\ufeff"])) + text).encode()


def exact(value: Any) -> Any:
    """Return a value with all that equality forgives: the kind of a number, an offset."""
    if isinstance(value, list):
        return [exact(item) for item in value]
    if isinstance(value, dict):
        return {key: exact(item) for key, item in value.items()}
    if isinstance(value, date | time):
        return value.isoformat()
    return type(value).__name__, value


@given(entry=ENTRIES, newline=ENDS)
def test_what_is_written_is_what_is_read(entry: dict[str, Any], newline: str) -> None:
    found = tomli.loads(block(entry, newline))
    assert exact(found) == exact({"log": [entry]})


@given(text=ANY)
def test_every_text_is_written_as_it_is_or_refused(text: str) -> None:
    try:
        written = block({"text": text}, "\n")
    except ValueRefused:
        assert any(
            ord(sign) < 32 or ord(sign) == 127 or 0xD800 <= ord(sign) < 0xE000 for sign in text
        )
        return
    assert tomli.loads(written) == {"log": [{"text": text}]}
    assert written.count("\n") == 2


@given(at=st.datetimes(min_value=EARLIEST, timezones=st.timezones()))
def test_an_instant_is_the_same_instant_with_its_offset(at: datetime) -> None:
    (found,) = tomli.loads(block({"at": settled(at)}, "\n"))["log"]
    # In UTC: of an hour that comes twice, Python calls no two zones' times equal.
    assert found["at"].astimezone(UTC) == at.astimezone(UTC)
    assert found["at"].utcoffset() == at.utcoffset()


def takes(text: str) -> bool:
    """Return whether a file is understood and one more table of a log is understood behind it."""
    try:
        tomli.loads(text)
        tomli.loads(f"{text}\n[[log]]\n")
    except tomli.TOMLDecodeError:
        return False
    return bool(text.strip())


@given(data=files(), entry=ENTRIES.filter(lambda each: not BASE & each.keys()))
def test_a_file_keeps_every_byte_and_gains_one_entry_or_stays(
    data: bytes, entry: dict[str, Any]
) -> None:
    text = data.decode("utf-8-sig")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "job.toml"
        path.write_bytes(data)
        if takes(text):
            made = append_entry(path, "air", entry, at=AT, recorded=AT)
            old, new = tomli.loads(text), path.read_bytes()
            whole = {**old, "log": [*old.get("log", []), dict(made.entry)]}
            assert new.startswith(data)
            assert exact(tomli.loads(new.decode("utf-8-sig"))) == exact(whole)
            assert exact(entry).items() <= exact(dict(made.entry)).items()
        else:
            with pytest.raises(SourceError):
                append_entry(path, "air", entry, at=AT, recorded=AT)
            assert path.read_bytes() == data
        assert {each.name for each in Path(folder).iterdir()} == {"job.toml", ".job.toml.lock"}
