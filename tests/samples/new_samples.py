"""A person who answers `curecal new`, and the answers to the usual build-ups."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import tomli

if TYPE_CHECKING:
    import pytest

NOW = "2026-11-30T15:00:00Z"
PEOPLE = (
    ("Name of the crew lead", "Robin Mistral"),
    ("Mail of Robin", "robin@tilecrew.example"),
    ("Name of the electrician", "Sam Okoro-Lind"),
    ("License of Sam", "E 2214"),
    ("Name of the owner", "Ida Fennell"),
    ("Phone of Ida", "+1 902 555 0100"),
)
LABEL = (
    ("Voltage", "240 V"),
    ("Power", "640 W"),
    ("Resistance", "90 ohm"),
    ("Breaker", "15 A"),
    ("Ground-fault", "GFCI 5 mA"),
)
SITE = (
    ("Name of the job", "Alder Lane, hall bath"),
    ("Large city", "Halifax"),
    ("Units", "imperial"),
    ("Below", "heated room"),
    ("What the thermostat heats", "hall bath"),
    ("Room [", "bathroom"),
    ("Covering", "ceramic"),
    ("Tile size", "6 x 6 in"),
)
BASE = (("Made of", "plywood"),)
# What each build-up asks beyond the site, the base, the label and the people.
OF_BUILD_UP = {
    "mat in thinset": (*BASE, ("Finished", "yesterday 16:00")),
    "cable in leveler": (*BASE, ("Thickness", "1/4 to 3/8 in")),
    "sheet with cable": BASE,
    "screed with cable": (("Made of", "concrete"), ("Laid by", "2015-06-01"), ("Thick", "2 in")),
    "repair": (("Laid by", "2015-06-01"), ("Finished", "2026-11-27 16:00")),
}


class Person:
    """Types the first answer whose words are in a question, each once; else Enter."""

    def __init__(self, answers: Iterable[tuple[str, str]]) -> None:
        self.left = list(answers)
        self.asked: list[str] = []

    def answer(self, question: str, default: Any = "", **_how: Any) -> str:
        """Stand in for `click.prompt`."""
        shown = f"{question} [{default}]" if default else question
        self.asked.append(shown)
        assert len(self.asked) < 200, f"asked without an end: {self.asked[-3:]}"
        for index, (words, typed) in enumerate(self.left):
            if words in shown:
                del self.left[index]
                return typed or str(default)
        return str(default)


def sits_down(monkeypatch: pytest.MonkeyPatch, *answers: tuple[str, str]) -> Person:
    """Put a person before the terminal."""
    person = Person(answers)
    monkeypatch.setattr(click, "prompt", person.answer)
    return person


def layers_of(path: str) -> list[dict[str, object]]:
    """Return the layers of a job file's first zone."""
    job = tomli.loads(Path(path).read_text(encoding="utf-8"))
    return list(job["zone"][0]["layer"])
