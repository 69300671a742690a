"""What a log entry says in plain words."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from curecal.trade.site_log import Booking, VisitFor
from curecal.words.catalogue import catalogue
from curecal.words.log_entries import parts_of
from curecal.words.plural_forms import FORMS_OF
from curecal.words.sentences import Words
from curecal.words.values import Reader


@pytest.mark.parametrize("language", FORMS_OF)
@pytest.mark.parametrize("typed", ["energize", "test-and-connect", "Sam, second try"])
def test_the_id_of_a_visit_is_shown_as_it_was_typed(typed: str, language: str) -> None:
    words = Words(catalogue(language), Reader(tz=UTC))
    values = {"visit": typed, "state": Booking.BOOKED, "purpose": VisitFor.OTHER}
    values["start_at"] = datetime(2026, 12, 3, 12, tzinfo=UTC)
    said = parts_of(values, None, words)
    assert [part.removeprefix("ID ").removeprefix("id ") for part in said].count(typed) == 1
