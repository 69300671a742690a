"""Lines never run past their width, whatever people called their layers."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from curecal.words.layout import bullet, columns, hanging, pad, paragraph, plain, table, wrap

WIDTHS = st.integers(min_value=20, max_value=120)
TEXTS = st.text(alphabet=st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp"]), max_size=200)


@given(TEXTS, WIDTHS)
def test_no_line_is_wider_than_asked(text: str, width: int) -> None:
    assert all(columns(line) <= width for line in wrap(text, width))
    for lines in (
        paragraph(text, width, indent=4),
        bullet(text, width),
        hanging("Label", text, width, indent=12),
        hanging("A label that is much longer than its place", text, width, indent=12),
    ):
        assert all(columns(line) <= width for line in plain(lines))


@given(TEXTS, WIDTHS)
def test_wrapping_loses_nothing(text: str, width: int) -> None:
    joined = "".join(wrap(text, width))
    assert joined.replace(" ", "").replace("\u00a0", "") == text.replace(" ", "").replace(
        "\u00a0", ""
    )


@given(st.lists(st.tuples(TEXTS, TEXTS, TEXTS), min_size=1, max_size=4), st.integers(40, 120))
def test_a_table_is_never_wider_than_asked(rows: list[tuple[str, str, str]], width: int) -> None:
    cells = [[[text] for text in row] for row in rows]
    lines = plain(table(["layer", "done", "heat"], cells, width))
    assert all(columns(line) <= width for line in lines)


def test_a_number_keeps_its_unit_and_a_day_its_year() -> None:
    assert wrap("keep it at 66 °F", 14) == ["keep it at", "66 °F"]
    assert wrap("not before Mon 4 Jan 2027, 15:10", 21) == ["not before", "Mon 4 Jan 2027, 15:10"]
    assert wrap("wait 28 d more", 7) == ["wait", "28 d", "more"]


def test_wide_and_combining_signs_are_counted_as_a_terminal_does() -> None:
    assert columns("浴室") == 4
    assert columns("e\u0301") == 1
    assert pad("浴", 4) == "浴  "


def test_a_table_stands_in_columns_and_leaves_out_empty_ones() -> None:
    rows = [
        [["thinset"], ["30 Nov"], [], ["4 Jan"]],
        [["grout"], ["1 Dec"], [], ["5 Jan", "6 Jan"]],
    ]
    assert plain(table(["layer", "done", "walk", "heat"], rows, 60)) == [
        "  layer    done    heat",
        "  thinset  30 Nov  4 Jan",
        "  grout    1 Dec   5 Jan",
        "                   6 Jan",
    ]


def test_a_table_without_room_becomes_a_list() -> None:
    rows = [[["a layer with a long name"], ["x" * 30], ["4 Jan"]]]
    assert plain(table(["layer", "done", "heat"], rows, 44)) == [
        "  a layer with a long name",
        f"    done: {'x' * 30}",
        "    heat: 4 Jan",
    ]


def test_a_short_name_column_keeps_its_place_under_a_long_head() -> None:
    rows = [[["a"], ["1"]]]
    assert plain(table(["from the day", "for"], rows, 40)) == [
        "  from the day  for",
        "  a             1",
    ]
