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
        ("thinset", "dry screed"),
        ("thinset", "poured asphalt"),
        ("membrane", "grout"),
        ("foam-core board", "grout"),
        ("bonded waterproofing sheet", "cement grout"),
        ("epoxy barrier", "epoxy grout"),
        ("microcement", "thinset"),
        ("terrazzo", "grout"),
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
        ("grout", "perimeter strip", "sealer"),
        ("perimeter strip", "thinset", "grout", "silicone"),
        ("bonded waterproofing sheet", "thinset", "grout"),
        ("foam-core board", "thinset", "grout"),
        ("insulation board", "cement board", "leveler", "thinset", "grout"),
        ("cement board", "dry screed", "insulation board", "leveler"),
        ("leveler", "microcement", "microcement", "sealer"),
        (
            "cement slurry waterproofing",
            "cement slurry waterproofing",
            "thinset",
            "semi-rapid grout",
        ),
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


def test_joints_and_edges_may_be_done_before_what_stands_under_them() -> None:
    early = _material("silicone", "done = 2026-11-02T12:00:00")
    found = read(layer="done = 2026-11-03T12:00:00", more=_layers(early))
    assert "done-before-below" not in [code for code, _ in codes(found)]
    board = _material("cement board", "done = 2026-11-02T12:00:00")
    found = read(layer="done = 2026-11-03T12:00:00", more=_layers(board))
    assert "done-before-below" in [code for code, _ in codes(found)]


_GLUE = '[material.glue]\nkind = "adhesive"\nhardens_by = "drying"\ndata_sheet = "p. 1"\n'


def _refused(*tables: str, top: str = "") -> list[str]:
    found = codes(read(top=top, more=_layers(*tables)))
    return [code for code, _ in found if code.startswith("dispersion")]


def test_a_dispersion_adhesive_is_refused_over_heat() -> None:
    """R29. A product whose own sheet gives a wait before heat may lie there."""
    assert _refused(_material("dispersion adhesive")) == ["dispersion-over-heat"]
    assert _refused(_material("ready-mixed adhesive")) == ["dispersion-over-heat"]
    assert _refused(_material("glue"), top=_GLUE) == ["dispersion-over-heat"]
    assert _refused(_material("glue"), top=f'{_GLUE}wait = {{ heat = "28 d" }}\n') == []
    assert _refused(_material("adhesive")) == []
    found = read(layer="existing = true", more=_layers(_material("leveler")))
    assert [code for code, _ in codes(found) if code.startswith("dispersion")] == []


def test_under_the_cable_a_dispersion_adhesive_is_not_over_heat() -> None:
    pour = _material("leveler", 'thickness = "8 mm"\nover_cable = true')
    assert _refused(_material("dispersion adhesive"), _material("plywood"), pour) == []
    old = _material("dispersion adhesive", "existing = true")
    found = read(layer="existing = true", more=_layers(old))
    assert [code for code, _ in codes(found) if code.startswith("dispersion")] == []


@pytest.mark.parametrize(
    "base", ["membrane", "epoxy barrier", "foam-core board", "bonded waterproofing sheet"]
)
@pytest.mark.parametrize("films", [(), ("primer",), ("primer", "primer")])
def test_a_dispersion_adhesive_is_refused_on_an_impervious_base(
    base: str, films: tuple[str, ...]
) -> None:
    sheet = f'{_GLUE}wait = {{ heat = "28 d" }}\n'
    tables = [_material(name) for name in (base, *films, "glue")]
    assert _refused(*tables, top=sheet) == ["dispersion-on-impervious"]


@pytest.mark.parametrize("base", ["leveler", "cement board", "plywood"])
def test_a_dispersion_adhesive_of_a_suitable_sheet_may_lie_on_what_takes_water(base: str) -> None:
    sheet = f'{_GLUE}wait = {{ heat = "28 d" }}\n'
    assert _refused(_material(base), _material("primer"), _material("glue"), top=sheet) == []


@pytest.mark.parametrize(
    "kind", ["engineered wood", "microcement", "terrazzo", "resin", "by others"]
)
def test_the_coverings_are_read(kind: str) -> None:
    found = read(zone=f'covering = "{kind}"')
    assert found.job is not None
    assert found.job.zones[0].covering.kind.value == kind
    assert codes(found) == []


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
