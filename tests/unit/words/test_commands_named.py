"""Every note that a text tells people to type has a kind of entry and keys that there are."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from curecal.toml_files.log_schema import BASE, KINDS

TEXTS = "\n".join(
    path.read_text(encoding="utf-8")
    for path in sorted((Path(__file__).parents[3] / "curecal/data/text").rglob("en-*.toml"))
).replace('\\"', "")
_NOTE = re.compile(r"curecal note (?:JOB|\{\w+\}) ([a-z_]+)((?: [\w{}]+=[^\s.;,:]+)*)")
NOTES = sorted(set(_NOTE.findall(TEXTS)))


@pytest.mark.parametrize(("kind", "pairs"), NOTES)
def test_a_note_that_is_told_has_a_kind_and_keys_that_there_are(kind: str, pairs: str) -> None:
    known = {key.name for key in (*BASE, *KINDS[kind])}
    if kind == "correction":
        known |= {key.name for keys in KINDS.values() for key in keys} | {"{typed}"}
    assert set(re.findall(r"([\w{}]+)=", pairs)) <= known


def test_there_are_such_notes() -> None:
    assert len(NOTES) > 5
    assert ("energized", "") in NOTES
