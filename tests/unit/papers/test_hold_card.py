"""The hold card says who says when, and bears no date."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from honest_jobs import NAMES, seen_at, text_of
from paper_samples import paper_context, texts

from curecal.errors import SourceError
from curecal.papers.blocks import FactList, Picture, Presence
from curecal.papers.hold_card import hold_card

EXAMPLES = Path(__file__).parents[3] / "examples"
AS_OF = datetime(2026, 11, 30, 12, tzinfo=UTC)
MONTHS = r"\b(Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)\b"
PHONE = "+1 902 555 0100"


def example(name: str) -> str:
    return (EXAMPLES / name / "job.toml").read_text(encoding="utf-8")


def test_it_names_the_crew_lead_and_the_number() -> None:
    text = example("bathroom").replace(
        'name = "Robin Mistral"', f'name = "Robin Mistral"\nphone = "{PHONE}"'
    )
    card = hold_card(paper_context(text, AS_OF))
    assert card is not None
    said = texts(card)
    assert said.count("Robin Mistral") == 1
    assert said.count(PHONE) == 1
    assert "Do not switch on." in said
    assert "No answer? Then it stays off." in said


def test_a_number_that_the_job_lacks_is_a_line_to_write_on() -> None:
    card = hold_card(paper_context(example("bathroom"), AS_OF))
    assert card is not None
    (facts,) = [block for block in card.sections[0].blocks if isinstance(block, FactList)]
    assert [fact.told for fact in facts.facts] == [Presence.TOLD, Presence.NOT_RECORDED]


def test_an_address_is_there_to_be_scanned(needs: Callable[[str], str]) -> None:
    needs("segno")
    ctx = paper_context(example("bathroom"), AS_OF)
    addresses = [f"https://pages.example/p/{sign * 43}/" for sign in "ab"]
    pictures = []
    for address in addresses:
        card = hold_card(ctx, page=address)
        assert card is not None
        assert card == hold_card(ctx, page=address)
        (picture,) = [block for block in card.sections[0].blocks if isinstance(block, Picture)]
        assert picture.described == "What applies today: scan this."
        pictures.append(picture.svg)
    assert pictures[0] != pictures[1]
    assert "style=" not in pictures[0]


def test_without_what_draws_it_the_way_to_it_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "segno", None)
    with pytest.raises(SourceError, match="paper-needs-web"):
        hold_card(paper_context(example("bathroom"), AS_OF), page="https://pages.example/")


@pytest.mark.parametrize("name", NAMES)
def test_no_card_bears_a_date_or_is_for_a_released_floor(name: str) -> None:
    text = text_of(name)
    ctx = paper_context(text, seen_at(text))
    held = [zone for zone in ctx.plan.zones if not zone.is_released]
    card = hold_card(ctx)
    assert (card is None) == (not held)
    if card is not None:
        assert len(card.sections) == len(held)
        said = " ".join(texts(card)[1:])
        for own in [ctx.plan.job.name, *(zone.zone.name for zone in ctx.plan.zones)]:
            said = said.replace(own, "")
        assert not re.search(MONTHS, said)
        assert not re.search(r"\d", said)


def test_of_two_zones_each_has_its_own() -> None:
    card = hold_card(paper_context(example("kitchen-two-zones"), AS_OF))
    assert card is not None
    assert [part.title for part in card.sections] == [
        "Kelpwharf, kitchen and bay: kitchen",
        "Kelpwharf, kitchen and bay: bay window",
    ]
