"""Records compare, hash and print as plain frozen dataclasses do."""

from __future__ import annotations

import copy
import pickle
from dataclasses import FrozenInstanceError, dataclass, field, replace

import pytest

from curecal.records import Record, record


@record
class Tile(Record):
    """A record."""

    kind: str
    edge_m: float = 0.3


@record
class EventContext(Record):
    """Another of the same form."""

    kind: str
    edge_m: float = 0.3


@dataclass(frozen=True, slots=True)
class Plain:
    """What a plain dataclass does."""

    kind: str
    edge_m: float = 0.3


@record(kw_only=True)
class Bed(Record):
    """One with every kind of field."""

    name: str
    tiles: list[Tile] = field(default_factory=list)
    note: str | None = None
    count: int = field(init=False)

    def __post_init__(self) -> None:
        """Count the tiles."""
        object.__setattr__(self, "count", len(self.tiles))


def test_it_is_made_as_a_dataclass_is() -> None:
    assert Bed(name="hall").tiles == []
    assert Bed(name="hall").tiles is not Bed(name="hall").tiles
    made = Bed(name="hall", tiles=[Tile("stone")], note="left")
    assert (made.name, made.count, made.note) == ("hall", 1, "left")
    assert replace(made, tiles=[]).count == 0
    for wrong in (lambda: Bed("hall"), Bed, lambda: Bed(name="hall", count=3), Tile):
        with pytest.raises(TypeError, match=r"(Bed|Tile)\.__init__\(\)"):
            wrong()


def test_a_record_of_a_record_is_made_of_the_fields_of_both() -> None:
    @record
    class Slab(Tile):
        thickness_m: float = 0.02

    assert Tile("stone") != Slab("stone")
    assert Slab("stone", 0.6, 0.03) == replace(Slab("stone", 0.6), thickness_m=0.03)


def test_alike_in_every_field_is_equal() -> None:
    assert Tile("stone") == Tile("stone")
    assert Tile("stone") != Tile("stone", 0.6)
    assert Tile("stone") != EventContext("stone")
    assert Tile("stone") != "stone"
    tile = Tile("stone", float("nan"))
    assert tile == tile  # noqa: PLR0124 - the very same record, whatever is in it


def test_equal_records_hash_alike() -> None:
    assert len({Tile("stone"), Tile("stone"), Tile("glass")}) == 2
    assert hash(Tile("stone")) == hash(Plain("stone"))


def test_it_prints_as_a_dataclass_does() -> None:
    assert repr(Tile("stone")) == repr(Plain("stone")).replace("Plain", "Tile")


def test_it_is_frozen_and_can_be_replaced_copied_and_matched() -> None:
    tile = Tile("stone")
    with pytest.raises(FrozenInstanceError):
        tile.kind = "glass"  # type: ignore[misc]
    with pytest.raises(FrozenInstanceError):
        del tile.kind  # type: ignore[misc]
    assert replace(tile, edge_m=0.6) == Tile("stone", 0.6)
    assert copy.deepcopy(tile) == tile
    assert pickle.loads(pickle.dumps(tile)) == tile  # noqa: S301 - our own bytes
    match tile:
        case Tile(kind, edge_m):
            assert (kind, edge_m) == ("stone", 0.3)
    with pytest.raises(AttributeError):
        object.__setattr__(tile, "other", 1)
