"""The figures that the rules chapter says in words are those of the rules."""

from __future__ import annotations

import pytest
import tomli

from curecal.shipped import shipped_text

RULES = tomli.loads(shipped_text("rules.toml"))["rule"]
CHAPTER = " ".join(shipped_text("manual", "rules.md").split())


@pytest.mark.parametrize(
    ("rule", "number", "value", "words"),
    [
        ("R5", "apart_s", "24 h", "at most a day apart, the colder one holds"),
        ("R5", "lone_s", "3 h", "A single reading counts for three hours on either side"),
        ("R7", "colder_k", "3 K", "3 °C (5.4 °F) colder than the air"),
        ("R7", "known_s", "24 h", "known together for a day with a night"),
        ("R9", "rated_c", "23 °C", "23 °C (73 °F) and 50 %"),
        ("R9", "rated_rh", "50 %", "23 °C (73 °F) and 50 %"),
        ("R10", "fallback_s", "28 d", "Without a sheet 28 days at 20 °C (68 °F)"),
        ("R10", "rated_c", "20 °C", "Without a sheet 28 days at 20 °C (68 °F)"),
        ("R12", "heat_s", "60 d", "large dense tile: 60 days"),
        ("R16", "age_s", "72 h", "cement younger than three days"),
        ("R19", "step_k", "5 K", "Under tile and stone 5 °C (9 °F) a day at most"),
        ("R19", "vinyl_step_k", "2.8 K", "vinyl 2.8 °C (5 °F)"),
        ("R19", "wood_step_k", "2 K", "wood 2 °C (3.6 °F)"),
        ("R19", "living_space_c", "29 °C", "living space 29 °C (84 °F)"),
        ("R19", "bathroom_c", "33 °C", "bathroom 33 °C (91 °F)"),
        ("R19", "perimeter_c", "35 °C", "edge strip 35 °C (95 °F)"),
        ("R19", "wood_resilient_c", "27 °C", "wood and resilient coverings 27 °C (80 °F)"),
        ("R19", "hold_count", 3, "Held three days"),
    ],
)
def test_a_figure_in_words_is_the_rules_own(
    rule: str, number: str, value: str | int, words: str
) -> None:
    """The value stands here too, so that whoever changes a rule is led to the words."""
    assert RULES[rule]["numbers"][number] == value
    assert words in CHAPTER


def test_the_chapter_names_every_rule_with_its_source() -> None:
    for rule in RULES.values():
        assert f"| {rule['title']} | {rule['basis']} | {rule['source']} |" in CHAPTER
