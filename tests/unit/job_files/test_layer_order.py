"""A list of layers that nobody could have built from bottom to top is refused (R24a)."""

from __future__ import annotations

import pytest
from file_samples import codes, read


def _layers(*tables: str) -> str:
    return "".join(f"[[zone.layer]]\n{table}\n" for table in tables)


def _material(name: str, more: str = "") -> str:
    return f'material = "{name}"\n{more}'


def _order_codes(*tables: str) -> list[tuple[str, str]]:
    """Return what is found of the order; the sample's own thinset lies lowest."""
    told = {"list-upside-down", "existing-over-fresh"}
    return [found for found in codes(read(more=_layers(*tables))) if found[0] in told]


@pytest.mark.parametrize(
    ("under", "layer"),
    [
        ("grout", "thinset"),
        ("grout", "grout"),
        ("grout", "leveler"),
        ("epoxy grout", "backer board"),
        ("sealer", "grout"),
        ("sealer", "thinset"),
        ("thinset", "concrete"),
        ("thinset", "screed"),
        ("rapid thinset", "mortar bed"),
        ("adhesive", "concrete"),
    ],
)
def test_what_a_fresh_layer_does_not_bear_asks_whether_the_list_is_upside_down(
    under: str, layer: str
) -> None:
    found = _order_codes(_material(under), _material(layer))
    assert ("list-upside-down", "zone.0.layer.2") in found


@pytest.mark.parametrize(
    "names",
    [
        ("thinset", "grout", "sealer", "sealer"),
        ("grout", "silicone", "sealer"),
        ("grout", "sealer", "silicone"),
        ("uncoupling sheet", "thinset", "leveler"),
        ("membrane", "thinset", "grout"),
    ],
)
def test_an_ordinary_order_is_not_asked_about(names: tuple[str, ...]) -> None:
    assert _order_codes(*map(_material, names)) == []


def test_a_list_from_top_to_bottom_is_asked_about_at_every_wrong_place() -> None:
    found = _order_codes(
        _material("sealer"), _material("grout"), _material("thinset"), _material("backer board")
    )
    assert found == [
        ("list-upside-down", "zone.0.layer.2"),
        ("list-upside-down", "zone.0.layer.3"),
    ]


def test_silicone_does_not_hide_what_lies_under_it() -> None:
    found = _order_codes(_material("grout"), _material("silicone"), _material("thinset"))
    assert found == [("list-upside-down", "zone.0.layer.3")]


def test_a_repair_may_follow_upon_fresh_grout() -> None:
    reset = _material("thinset", "repair = true")
    assert _order_codes(_material("grout"), reset, _material("grout", "repair = true")) == []


def test_layers_of_two_parts_do_not_bear_each_other() -> None:
    left, right = 'part = "left"', 'part = "right"'
    assert _order_codes(_material("grout", left), _material("thinset", right)) == []


def test_what_was_there_before_cannot_lie_on_a_fresh_layer() -> None:
    old = _material("grout", "existing = true")
    assert _order_codes(old) == [("existing-over-fresh", "zone.0.layer.1.existing")]


def test_what_was_there_before_may_lie_over_a_repair_or_beside_a_fresh_part() -> None:
    mended = 'existing = true\n[[zone.layer]]\nmaterial = "thinset"\nrepair = true'
    found = read(layer=mended, more=_layers(_material("grout", "existing = true")))
    assert not [code for code, _ in codes(found) if code == "existing-over-fresh"]
    beside = read(layer='part = "left"', more=_layers(
        _material("grout", 'part = "right"\nexisting = true')
    ))  # fmt: skip
    assert not [code for code, _ in codes(beside) if code == "existing-over-fresh"]


def test_a_covering_that_lies_loose_says_so_and_tile_never_does() -> None:
    floating = read(zone='covering = { kind = "laminate", laid = "floating" }')
    assert floating.job is not None
    assert floating.job.zones[0].covering.is_floating
    glued = read(zone='covering = { kind = "laminate", laid = "glued" }')
    assert glued.job is not None
    assert not glued.job.zones[0].covering.is_floating
    tile = read(zone='covering = { kind = "stone", laid = "floating" }')
    assert codes(tile) == [("tile-floating", "zone.0.covering.laid")]


def test_a_covering_that_the_job_leaves_out_is_not_taken_for_a_known_one() -> None:
    unnamed, named = read(), read(zone='covering = "ceramic tile"')
    assert unnamed.job is not None
    assert named.job is not None
    assert not unnamed.job.zones[0].covering.is_named
    assert named.job.zones[0].covering.is_named


def test_a_part_has_one_name_however_its_layers_spell_it() -> None:
    found = read(layer='part = "North"', more=_layers(_material("grout", 'part = " north"')))
    assert found.job is not None
    assert [layer.part for layer in found.job.zones[0].layers] == ["North", "North"]
    assert codes(found) == []


def test_a_part_that_one_layer_alone_names_is_told() -> None:
    found = read(
        layer='part = "north"',
        more=_layers(_material("grout", 'part = "nort"'), _material("sealer", 'part = "north"')),
    )
    assert codes(found) == [("part-named-once", "zone.0.layer.1.part")]
    assert found.findings[0].params["nearest"] == "north"
    assert found.job is not None


def test_parts_that_share_the_floor_and_a_part_alone_are_not_asked_about() -> None:
    halves = _layers(_material("grout", 'part = "door"'), _material("grout", 'part = "window"'))
    assert codes(read(more=halves)) == []
    assert codes(read(more=_layers(_material("grout", 'part = "door"')))) == []
    alike = _layers(_material("grout", 'part = "north"'), _material("grout", 'part = "nort"'))
    assert [code for code, _ in codes(read(more=alike))] == ["part-named-once"] * 2
    strange = _layers(_material("grout", 'part = "door"'), _material("sealer", 'part = "window"'))
    assert [code for code, _ in codes(read(more=strange))] == ["part-named-once"] * 2
