"""Whom somebody on site calls when nothing can be sent: it stands in the page, for a later hour."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from page_samples import COLM, LEAD, MAX, PEOPLE, page_site

if TYPE_CHECKING:
    from pathlib import Path

WITH_PHONES = (
    PEOPLE.replace('name = "Pat Moran"', 'name = "Pat Moran"\nphone = "+1 902 555 0101"')
    .replace('name = "Colm Byrne"', 'name = "Colm Byrne"\nphone = "+1 902 555 0102"')
    .replace('name = "Kim Lee"', 'name = "Kim Lee"\nphone = "+1 902 555 0103"')
    .replace('name = "Ola Berg"', 'name = "Ola Berg"\nphone = "+1 902 555 0104"')
    .replace(
        'name = "Sam Oduya"', 'name = "Sam Oduya"\nphone = "+1 902 555 0105"\nuntil = 2026-10-01'
    )
)
ALL = ["Pat Moran", "Colm Byrne", "Kim Lee", "Ola Berg"]


@pytest.mark.parametrize(
    ("person", "wanted"), [(MAX, ALL), (LEAD, ALL[1:]), (COLM, ["Pat Moran", *ALL[2:]])]
)
def test_everybody_with_a_telephone_but_the_caller_the_crew_lead_first(
    tmp_path: Path, person: str, wanted: list[str]
) -> None:
    body = page_site(tmp_path, people=WITH_PHONES).get(person).get_data(as_text=True)
    assert re.findall(r'data-call="([^"]+)"', body) == wanted
    assert re.findall(r'data-phone="([^"]+)"', body)[-1] == "+1 902 555 0104"


def test_without_a_number_it_says_whom_to_call(tmp_path: Path) -> None:
    body = page_site(tmp_path).get(MAX).get_data(as_text=True)
    assert "data-call" not in body
    assert "Call everybody who works on this floor." in body


def test_an_owners_page_keeps_nothing_on_the_telephone(tmp_path: Path) -> None:
    body = page_site(tmp_path).get("Kim Lee").get_data(as_text=True)
    assert "outbox" not in body
