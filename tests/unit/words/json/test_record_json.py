"""Records as JSON: codes and values alone, instants never early, and the same record back."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import field
from datetime import UTC, date, datetime
from enum import StrEnum

import pytest

from curecal.errors import SourceError
from curecal.records import Record, record
from curecal.trade.findings import Message
from curecal.words.json.record_json import decode, encode


class Shade(StrEnum):
    """A code."""

    LIGHT = "light"


@record
class Tile(Record):
    """One tile."""

    side_m: float
    laid_at: datetime | None = None
    shade: Shade = Shade.LIGHT


@record
class Floor(Record):
    """Some tiles."""

    tiles: tuple[Tile, ...]
    seen_on: date
    counts: Mapping[str, int] = field(default_factory=dict)
    why: Message | None = None


FLOOR = Floor(
    (Tile(0.1 + 0.2, datetime(2027, 3, 1, 8, 0, 0, 500_000, tzinfo=UTC)), Tile(1.0)),
    date(2027, 3, 1),
    {"whole": 2},
    Message("dry", {"at": datetime(2027, 3, 1, tzinfo=UTC), "how": (Shade.LIGHT, None, True)}),
)
TABLE = {
    "tiles": [
        {"side_m": 0.3, "laid_at": "2027-03-01T08:00:01Z", "shade": "light"},
        {"side_m": 1.0, "laid_at": None, "shade": "light"},
    ],
    "seen_on": "2027-03-01",
    "counts": {"whole": 2},
    "why": {
        "code": "dry",
        "params": {"at": "2027-03-01T00:00:00Z", "how": ["light", None, True]},
    },
}


def test_a_record_becomes_a_table_of_its_fields() -> None:
    assert json.loads(json.dumps(encode(FLOOR), allow_nan=False)) == TABLE
    # What is JSON already stays as it is.
    assert encode(TABLE) == TABLE


def test_texts_stand_beside_the_facts_of_every_record() -> None:
    def beside(facts: Record) -> Mapping[str, object]:
        return {"said": facts.shade} if isinstance(facts, Tile) else {}

    found = encode(FLOOR, beside)
    assert [tile["said"] for tile in found["tiles"]] == ["light", "light"]
    assert "said" not in found


def test_a_table_gives_the_same_record_back() -> None:
    found = decode(Floor, TABLE | {"added": 1}, "x")
    assert encode(found) == TABLE
    assert found.tiles[1] == Tile(1.0)
    assert found.tiles[0].shade is Shade.LIGHT


@pytest.mark.parametrize(
    ("table", "place"),
    [
        ([], ""),
        ({"seen_on": "2027-03-01"}, "tiles"),
        (TABLE | {"seen_on": "2027-02-30"}, "seen_on"),
        (TABLE | {"tiles": [{"side_m": True}]}, "tiles.0.side_m"),
        (TABLE | {"tiles": [{"side_m": 1, "shade": "grey"}]}, "tiles.0.shade"),
        (TABLE | {"tiles": [{"side_m": 1, "laid_at": "2027-03-01T08:00"}]}, "tiles.0.laid_at"),
        (TABLE | {"counts": {"whole": 1.5}}, "counts.whole"),
    ],
)
def test_what_is_not_as_it_was_written_is_refused_with_its_place(table: object, place: str) -> None:
    with pytest.raises(SourceError, match="moved-unreadable") as refused:
        decode(Floor, table, "old.json")
    assert refused.value.params == {"path": "old.json", "what": place}
