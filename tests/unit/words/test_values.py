"""Values as people read them: the ending of a parameter's name decides."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from curecal.trade.data_sheets import Milestone
from curecal.trade.job import Code, Units
from curecal.words.catalogue import catalogue
from curecal.words.values import Reader, clean, electrical, show, show_at

EN = catalogue("en")
METRIC = Reader()
HALIFAX = Reader(Units.IMPERIAL, ZoneInfo("America/Halifax"), Code.NEC)
AT = datetime(2027, 1, 4, 19, 10, tzinfo=UTC)


@pytest.mark.parametrize(
    ("name", "value", "metric", "imperial"),
    [
        ("wait_s", 28 * 86400.0, "28 days", "28 days"),
        ("rated_c", 20.0, "20 °C", "68 °F"),
        ("limit_c", 29.0, "29 °C (84 °F)", "84 °F (29 °C)"),
        ("to_c", 27.0, "27 °C (80 °F)", "80 °F (27 °C)"),
        ("step_k", 5.0, "5 °C", "9 °F"),
        ("thickness_m", 0.009525, "9.5 mm", "3/8 in"),
        ("area_m2", 5.0, "5 m²", "53.8 ft²"),
        ("share_fraction", 0.405, "40.5 %", "40.5 %"),
        ("humidity_rh", 0.55, "55 %", "55 %"),
        ("read_ohm", 90.0, "90 Ω", "90 Ω"),
        ("rated_v", 240.0, "240 V", "240 V"),
        ("rated_w", 640.0, "640 W", "640 W"),
        ("breaker_a", 15.0, "15 A", "15 A"),
        ("rate_ratio", 0.907123, "0.9071", "0.9071"),
        ("count", 3, "3", "3"),
        ("wish_count", 3.0, "3", "3"),
        ("number", 3.5, "3.5", "3.5"),
        ("day_on", date(2027, 1, 4), "Mon 4 Jan 2027", "Mon 4 Jan 2027"),
        ("earliest_at", AT, "Mon 4 Jan 2027, 19:10", "Mon 4 Jan 2027, 15:10"),
        ("anything", None, "not known", "not known"),
        ("anything", True, "yes", "yes"),
        ("anything", False, "no", "no"),
        ("known", ["thinset", "grout"], "thinset, grout", "thinset, grout"),
        ("milestone", "bare_heat", "heating it bare", "heating it bare"),
        ("what", Milestone.WALK, "walking on it", "walking on it"),
        ("layer", "bag\nof\x07 thinset\u202e", "bag of thinset", "bag of thinset"),
        ("odd", frozenset(), "frozenset()", "frozenset()"),
        (
            "missing",
            "to_earth",
            "the reading from conductor to earth",
            "the reading from conductor to ground",
        ),
    ],
)
def test_a_value_is_shown_by_the_ending_of_its_name(
    name: str, value: object, metric: str, imperial: str
) -> None:
    assert show(name, value, EN, METRIC) == metric
    assert show(name, value, EN, HALIFAX) == imperial


def test_what_lies_ahead_is_rounded_up_and_what_was_logged_down() -> None:
    late = AT + timedelta(seconds=1)
    # One instant is one minute, wherever it stands in the plan.
    for ahead in ("earliest_at", "latest_at", "latest_start_at", "until_at"):
        assert show(ahead, late, EN, METRIC).endswith("19:11")
    for logged in ("frozen_at", "released_at", "signed_at", "resumed_at", "thawed_at", "was_at"):
        assert show(logged, late, EN, METRIC).endswith("19:10")
    assert show_at(AT, EN, METRIC) == "Mon 4 Jan 2027, 19:10"


def test_rounding_up_crosses_the_day() -> None:
    late = datetime(2027, 1, 4, 23, 59, 30, tzinfo=UTC)
    assert show_at(late, EN, METRIC) == "Tue 5 Jan 2027, 00:00"


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (Code.NEC, "ground GFCI breaker"),
        (Code.CEC, "ground GFCI breaker"),
        (Code.BS_7671, "earth 30 mA RCD circuit breaker"),
        (Code.OTHER, "earth residual-current protection circuit breaker"),
    ],
)
def test_electrical_words_follow_the_code(code: Code, words: str) -> None:
    template = "{word_earth} {word_protection} {word_breaker}"
    assert electrical(template, EN, Reader(code=code)) == words


def test_letters_of_every_script_stay() -> None:
    assert clean("Łazienka 浴室 ألف 👩‍🔧") == "Łazienka 浴室 ألف 👩‍🔧"


@pytest.mark.parametrize(("language", "said"), [("en", "in 24 h"), ("fr", "en 24 h")])
def test_what_evaporates_in_a_day_is_told_in_the_readers_language(language: str, said: str) -> None:
    # 3 lb/1000 ft² in 24 h is 14.65 g/m² in a day: 1 lb is 0.45359237 kg, 1 ft 0.3048 m.
    rate_kgm2s = 3.0 * 0.45359237 / (1000.0 * 0.3048**2) / 86_400.0
    imperial = Reader(units=Units.IMPERIAL)
    shown = show("value_kgm2s", rate_kgm2s, catalogue(language), imperial)
    assert shown == f"3 lb/1000 ft² {said}"
