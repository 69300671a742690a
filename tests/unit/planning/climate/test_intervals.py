"""Stretches that readings cover, and the worst of several where they overlap."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curecal.planning.climate.intervals import (
    PlaceIntervals,
    clip_pieces,
    combine_ranks,
    combine_until_read,
    cut_out,
    spot_pieces,
    straight_pieces,
)
from curecal.planning.climate.pieces import Piece, merge_spans

H = 3600.0


def spots(*pairs: tuple[float, float]) -> list[Piece]:
    return spot_pieces([(h * H, v) for h, v in pairs], apart_s=24 * H, reach_s=3 * H, worst=min)


def test_a_lone_look_covers_three_hours_on_either_side() -> None:
    assert spots((10, 15.0)) == [Piece(7 * H, 10 * H, 15, 15), Piece(10 * H, 13 * H, 15, 15)]


def test_between_two_looks_a_day_apart_the_colder_holds() -> None:
    assert spots((0, 15.0), (24, 12.0))[-1] == Piece(0, 24 * H, 12.0, 12.0)


def test_a_cold_look_covers_its_three_hours_past_a_warmer_one() -> None:
    found = combine_ranks([spots((0, 12.0), (1, 15.0))], min)
    assert [(p.start_s / H, p.start) for p in found if p.start > 12.0] == [(3, 15.0)]


def test_what_is_not_held_is_covered_near_the_looks_alone() -> None:
    looks = [(0.0, 15.0), (10 * H, 12.0), (20 * H, 14.0)]
    found = spot_pieces(looks, apart_s=24 * H, reach_s=3 * H, worst=min, holding={20 * H})
    held = [piece for piece in found if piece.end_s - piece.start_s > 3 * H]
    assert held == [Piece(10 * H, 20 * H, 12.0, 12.0)]


def test_what_is_only_held_does_not_hide_what_was_read_below_it() -> None:
    surface = PlaceIntervals([Piece(0, 24, 18, 18)], [(0, 3), (21, 24)])
    air = PlaceIntervals([Piece(0, 24, 12, 12)], [(0, 24)])
    assert combine_until_read([surface, air]) == [
        Piece(0, 3, 18, 18),
        Piece(3, 21, 12, 12),
        Piece(21, 24, 18, 18),
    ]
    warm = PlaceIntervals([Piece(-5, 24, 20, 20)], [(-5, 24)])
    found = combine_until_read([surface, warm])
    assert [(p.start_s, p.start) for p in found if p.start != 18] == [(-5, 20)]


def test_two_looks_more_than_a_day_apart_leave_a_gap() -> None:
    pieces = spots((0, 15.0), (25, 12.0))
    assert [(p.start_s / H, p.end_s / H) for p in pieces] == [(-3, 0), (0, 3), (22, 25), (25, 28)]


def test_two_looks_at_one_instant_count_as_the_colder() -> None:
    assert {piece.start for piece in spots((0, 15.0), (0, 12.0))} == {12.0}


def test_a_logger_is_straight_over_two_intervals_and_no_further() -> None:
    points = [(0.0, 10.0), (H, 12.0), (3 * H, 16.0), (5.5 * H, 20.0)]
    pieces = straight_pieces(points, interval_s=H)
    assert pieces == [Piece(0, H, 10, 12), Piece(H, 3 * H, 12, 16)]
    assert pieces[0].at(H / 2) == 11.0


def test_the_best_rank_hides_the_others_and_the_coldest_of_it_counts() -> None:
    surface = [Piece(0, 10, 15, 15)]
    air = [Piece(0, 20, 12, 12), Piece(5, 15, 11, 11)]
    assert combine_ranks([surface, air], min) == [
        Piece(0, 10, 15, 15),
        Piece(10, 15, 11, 11),
        Piece(15, 20, 12, 12),
    ]


def test_two_that_cross_are_cut_where_they_cross() -> None:
    crossing = [Piece(0, 10, 10, 20), Piece(0, 10, 20, 10)]
    assert combine_ranks([crossing], min) == [Piece(0, 5, 10, 15), Piece(5, 10, 15, 10)]
    assert combine_ranks([crossing], max) == [Piece(0, 5, 20, 15), Piece(5, 10, 15, 20)]


def test_a_hole_in_every_rank_stays_a_hole() -> None:
    assert combine_ranks([[Piece(0, 1, 5, 5), Piece(2, 3, 6, 6)]], min) == [
        Piece(0, 1, 5, 5),
        Piece(2, 3, 6, 6),
    ]
    pieces = combine_ranks([[Piece(0, 1, 5, 5)], [Piece(2, 3, 6, 6)]], min)
    assert pieces == [Piece(0, 1, 5, 5), Piece(2, 3, 6, 6)]
    assert combine_ranks([[], []], min) == []


def test_two_that_cross_at_an_end_are_one_straight_line() -> None:
    pieces = [Piece(0, 2 / 3, 1, 1 / 3), Piece(0, 2 / 3, 0, 1 / 3 + 1e-16)]
    found = combine_ranks([pieces], min)
    assert found[0].start == 0
    assert found[-1].end == pytest.approx(1 / 3)
    assert all(piece.at(1 / 3) == pytest.approx(1 / 6) for piece in found)


levels = st.floats(-5, 30)


@given(
    st.lists(st.tuples(st.floats(0, 50), st.floats(1, 50), levels, levels), min_size=1, max_size=6)
)
def test_the_envelope_is_the_coldest_at_every_instant(made: list[tuple[float, ...]]) -> None:
    pieces = [Piece(a, a + b, c, d) for a, b, c, d in made]
    found = combine_ranks([pieces], min)
    for piece in found:
        middle = (piece.start_s + piece.end_s) / 2
        over = [p.at(middle) for p in pieces if p.start_s <= middle <= p.end_s]
        assert piece.at(middle) == pytest.approx(min(over), abs=1e-6)
    covered = merge_spans((p.start_s, p.end_s) for p in pieces)
    assert merge_spans((p.start_s, p.end_s) for p in found) == covered


def test_freezing_is_found_by_straight_crossing() -> None:
    assert Piece(0, 10, 5, -5).spans_at_or_below(0.0) == [(5, 10)]
    assert Piece(0, 10, -5, 5).spans_at_or_below(0.0) == [(0, 5)]
    assert Piece(0, 10, -5, -1).spans_at_or_below(0.0) == [(0, 10)]
    assert Piece(0, 10, 1, 2).spans_at_or_below(0.0) == []


def test_cutting_and_taking_out() -> None:
    piece = Piece(0, 10, 0, 10)
    assert clip_pieces([piece, Piece(20, 30, 1, 1)], start_s=2, end_s=4) == [Piece(2, 4, 2, 4)]
    assert cut_out(piece, [(2, 4), (8, 12), (20, 30)]) == [Piece(0, 2, 0, 2), Piece(4, 8, 4, 8)]
    assert cut_out(piece, [(-5, 3)]) == [Piece(3, 10, 3, 10)]
    assert cut_out(piece, [(0, 10)]) == []
    assert cut_out(piece, []) == [piece]
    assert piece.shifted(0.0) is piece
    assert piece.shifted(-3.0) == Piece(0, 10, -3, 7)


@given(st.floats(-1e-6, 1e-6), st.floats(-1e-6, 1e-6), st.floats(-1e-12, 1e-12))
def test_pieces_that_all_but_lie_on_one_another_are_cut_once(
    start: float, end: float, ulp: float
) -> None:
    steep, flat = Piece(1 * H, 9 * H, 0.0, 1.0), Piece(0.0, 8 * H, start, end)
    for pieces in ([steep, flat], [flat, Piece(0.0, 8 * H, start + ulp, end - ulp)]):
        for worst in (min, max):
            found = combine_ranks([pieces], worst)
            assert len(found) <= 5
            assert all(first.end_s == second.start_s for first, second in pairwise(found))


def test_a_cut_ends_where_floats_can_tell_no_more() -> None:
    pieces = [Piece(3600.0, 32400.0, 0.0, 1.0), Piece(0.0, 28800.0, 0.0, 1.7200196723235027e-08)]
    assert len(combine_ranks([pieces], min)) <= 4
