"""Mistakes in materials, sensors and the log are errors at their places."""

from __future__ import annotations

import pytest
from file_samples import LOG, MATERIAL, codes, read

MOISTURE = "material.m.moisture"


@pytest.mark.parametrize(
    ("part", "line", "code", "path"),
    [
        ("more", "log = 3", "key-unknown", "zone.0.layer.0.log"),
        ("more", '[material.m]\nkind = "thinset"\n', "key-missing", "material.m.data_sheet"),
        ("more", "[material]\nm = 3\n", "type-wrong", "material"),
        (
            "more",
            MATERIAL + 'hardens_by = "at once"\n',
            "at-once-not-for-kind",
            "material.m.hardens_by",
        ),
        ("more", MATERIAL + 'wait = { walk = "0 h" }\n', "quantity-zero", "material.m.wait.walk"),
        (
            "more",
            MATERIAL + 'wait = { walk = "4000 d" }\n',
            "quantity-unlikely",
            "material.m.wait.walk",
        ),
        (
            "more",
            MATERIAL + 'wait = { heat = "2 d", cover = "7 d" }\n',
            "heat-before-own-wait",
            "material.m.wait.heat",
        ),
        (
            "more",
            MATERIAL + 'wait = { heat = "7 d", heat_sealed = "2 d", grout = "3 d" }\n',
            "heat-before-own-wait",
            "material.m.wait.heat_sealed",
        ),
        (
            "more",
            MATERIAL + 'wait = { grout = { "10 °C" = "1 h", "20 °C" = "2 h" } }\n',
            "wait-table-rises",
            "material.m.wait.grout",
        ),
        (
            "more",
            MATERIAL + 'wait = { cover = { "10 °C" = "1 h", "tile" = "2 h" } }\n',
            "quantity-unreadable",
            "material.m.wait.cover",
        ),
        (
            "more",
            MATERIAL + 'wait = { cover = { slate = "1 h" } }\n',
            "cover-key-unknown",
            "material.m.wait.cover.slate",
        ),
        (
            "more",
            MATERIAL + 'wait = { cover = "drying" }\n',
            "drying-without-rule",
            "material.m.wait.cover",
        ),
        (
            "more",
            '[sensor.s]\ntable = { "0 °C" = "32 kΩ" }\n',
            "sensor-table-wrong",
            "sensor.s.table",
        ),
        ("more", '[sensor.s]\ntable = { "0 °C" = 3 }\n', "quantity-no-unit", "sensor.s.table"),
        ("more", "[sensor.s]\ntable = 3\n", "sensor-table-wrong", "sensor.s.table"),
        ("more", "[sensor.s]\n", "sensor-needs-one", "sensor.s"),
        ("more", "[sensor.s]\ncoefficients = [1, 2]\n", "type-wrong", "sensor.s.coefficients"),
        (
            "more",
            "[sensor.s]\ncoefficients = [1.1, 2.0, -3.0]\n",
            "coefficients-not-possible",
            "sensor.s.coefficients",
        ),
        ("more", LOG + 'kind = "aire"\n', "entry-kind-unknown", "log.0.kind"),
        ("more", LOG + "kind = 3\n", "entry-kind-unknown", "log.0.kind"),
        ("more", LOG, "entry-kind-missing", "log.0.kind"),
        ("more", '[[log]]\nat = "soon"\nkind = "aire"\n', "instant-unreadable", "log.0.at"),
        ("more", "[[log]]\n", "key-missing", "log.0.at"),
        ("more", '[[log]]\nkind = "release"\n', "key-missing", "log.0.at"),
        ("more", LOG + 'kind = "air"\n', "reading-empty", "log.0"),
        (
            "more",
            LOG + 'kind = "air"\nair = "5 °C"\nlow = "6 °C"\n',
            "low-above-reading",
            "log.0.low",
        ),
        ("more", LOG + 'kind = "air"\nair = "5 °C"\nzone = "x"\n', "zone-not-there", "log.0.zone"),
        ("more", LOG + 'kind = "done"\nlayer = "x"\n', "layer-not-there", "log.0.layer"),
        ("more", LOG + 'kind = "test_points"\nlayer = 3\n', "type-wrong", "log.0.layer"),
        (
            "more",
            LOG + 'kind = "done"\nlayer = "bed"\npart = "x"\n',
            "part-not-there",
            "log.0.layer",
        ),
        (
            "more",
            LOG + 'kind = "kept"\nabove = "16 °C"\nfrom = 2026-10-31\nto = 2026-10-30\n',
            "kept-reversed",
            "log.0.to",
        ),
        (
            "more",
            LOG + 'kind = "kept"\nabove = "16 °C"\nfrom = 2026-10-31\nto = 2026-11-02\n',
            "kept-ahead",
            "log.0.to",
        ),
        (
            "more",
            LOG + 'kind = "resistance"\nstage = "laid"\nconductor = "> 90 Ω"\n',
            "reading-not-exact",
            "log.0.conductor",
        ),
        (
            "more",
            LOG + 'kind = "resistance"\nstage = "laid"\ninsulation = "OL"\n',
            "insulation-without-figure",
            "log.0.insulation",
        ),
        (
            "more",
            LOG + 'kind = "resistance"\nstage = "laid"\ninsulation = "1 GΩ at 500 V"\n'
            'insulation_at = "500 V"\n',
            "insulation-voltage-twice",
            "log.0.insulation",
        ),
        (
            "more",
            LOG + 'kind = "moisture"\nlayer = "bed"\nvalue = "2 %"\n',
            "moisture-without-method",
            "log.0.method",
        ),
        (
            "more",
            LOG + 'kind = "moisture"\nlayer = "bed"\nvalue = "2 CM-%"\nmethod = "humidity"\n',
            "moisture-method",
            "log.0.value",
        ),
        (
            "more",
            LOG + 'kind = "moisture"\nlayer = "bed"\nvalue = "2 %"\nmethod = "calcium chloride"\n',
            "moisture-method",
            "log.0.value",
        ),
        ("more", MATERIAL + 'moisture = { dish = "75 % RH" }\n', "choice-unknown", MOISTURE),
        ("more", MATERIAL + 'moisture = { probe = "2 CM-%" }\n', "moisture-method", MOISTURE),
        ("more", MATERIAL + "moisture = { probe = 75 }\n", "quantity-no-unit", MOISTURE),
        (
            "more",
            LOG + 'kind = "moisture"\nlayer = "bed"\nvalue = "2 CM-%"\npoints = 0\n',
            "type-wrong",
            "log.0.points",
        ),
        ("more", LOG + 'kind = "correction"\nof = "e-1"\n', "correction-of-unknown", "log.0.of"),
        (
            "more",
            LOG + 'kind = "note"\nid = "a"\n' + LOG + 'kind = "correction"\nof = "a"\n',
            "correction-empty",
            "log.1",
        ),
        (
            "more",
            LOG + 'kind = "note"\nid = "a"\n' + LOG + 'kind = "release"\nid = "a"\n',
            "entry-id-twice",
            "log.1.id",
        ),
        (
            "more",
            LOG + 'kind = "note"\nid = "a"\n' + LOG + 'kind = "release"\nid = "a "\n',
            "entry-id-twice",
            "log.1.id",
        ),
        (
            "more",
            "a = [[[[[[[[[[[[[1]]]]]]]]]]]]]",
            "nested-too-deeply",
            "zone.0.layer.0.a" + ".0" * 8,
        ),
        (
            "more",
            MATERIAL + 'wait = { cover = { tile = "soon" } }\n',
            "quantity-unreadable",
            "material.m.wait.cover.tile",
        ),
        (
            "more",
            MATERIAL + 'rated = { humidity = "99 %" }\n',
            "quantity-out-of-range",
            "material.m.rated.humidity",
        ),
    ],
)
def test_a_mistake_is_an_error_at_its_place(part: str, line: str, code: str, path: str) -> None:
    found = read(**{part: line})
    assert (code, path) in codes(found)
    assert found.job is None


@pytest.mark.parametrize(
    "named",
    [
        *("none", "None ", "unknown", "TBD", "n/a", "N/A", "-", "–", "?", "...", "no sheet"),
        *("my experience", "From memory", "rule of thumb", "as usual"),
    ],
)
def test_a_sheet_that_says_there_is_none_is_no_source(named: str) -> None:
    found = read(more=f'[material.m]\nkind = "thinset"\ndata_sheet = "{named}"\n')
    assert codes(found) == [("source-names-none", "material.m.data_sheet")]


@pytest.mark.parametrize("named", ["p. 2", "rev. 2026-02", "none of 12, p. 3", "7"])
def test_a_sheet_that_is_named_is_a_source(named: str) -> None:
    assert codes(read(more=f'[material.m]\nkind = "thinset"\ndata_sheet = "{named}"\n')) == []


@pytest.mark.parametrize("own", ["walk", "grout", "cover"])
def test_heat_before_the_sheets_own_earlier_waits_was_misread(own: str) -> None:
    found = read(more=MATERIAL + f'wait = {{ heat = "80 h", {own} = "96 h" }}\n')
    assert codes(found) == [("heat-before-own-wait", "material.m.wait.heat")]


@pytest.mark.parametrize("own", ["seal", "wet", "load"])
def test_heat_before_the_sheets_later_waits_is_told_and_put_off(own: str) -> None:
    found = read(more=MATERIAL + f'wait = {{ heat = "80 h", {own} = "96 h" }}\n')
    assert codes(found) == [("heat-put-off", "material.m.wait.heat")]
    assert found.job is not None


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ('rated = { temperature = "21 °F" }', "rating-cold"),
        ('rated = { temperature = "14.9 °C" }', "rating-cold"),
        ('rated = { temperature = "16 °C" }\nminimum = "17 °C"', "rating-cold"),
        ('rated = { temperature = "15 °C" }', None),
        ('rated = { temperature = "12 °C" }\nsure = true', None),
        ('rated = { temperature = "12 °C" }\nsure = false', "rating-cold"),
    ],
)
def test_a_rating_no_sheet_is_likely_to_print_is_asked_about(more: str, code: str | None) -> None:
    found = [named for named, _ in codes(read(more=f"{MATERIAL}{more}\n"))]
    assert found == ([] if code is None else [code])
