"""A text message stays within two parts in every language, filled as a job of ours fills it."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from plan_samples import RULES, job, zone

from curecal.delivery.text_message import short
from curecal.trade.findings import Message
from curecal.words.catalogue import catalogue, languages
from curecal.words.sentences import words_for

AT, DAY = datetime(2027, 8, 12, 12, 30, tzinfo=UTC), date(2027, 8, 12)
SAID: dict[str, object] = {
    "place": "Alder Lane, hall bath",
    "job": "Alder Lane, hall bath",
    "person": "Robin Mistral",
    "who": "Sam Okoro-Lind",
    "phone": "+1 902 555 0100",
    "address": "robin@tilecrew.example",
    "setting": "82 °F (27.5 °C)",
    "layer": "leveler over the cable",
    "device": "Logger 7",
    "least_c": 17.0,
}
# Nothing that a person typed at length, nor a further job, is counted here.
LEFT_OUT = frozenset({"also", "reason"})


@pytest.mark.parametrize("language", languages())
def test_every_text_message_takes_two_parts_at_most(language: str) -> None:
    site = job(zone())
    words = words_for(site, RULES, language=language, as_of=AT)
    hold = words.name("hold", "test-after-embedding")
    ours: dict[str, object] = {
        "about": "moved",
        "visit": words.name("visit", "test-and-connect"),
        "hold": hold,
        "found": words.message(
            Message("below-minimum", {"bed_c": 4.0, "minimum_c": 10.0, "layer": "grout"})
        ),
        "why": words.message(
            Message(
                "stopped",
                {"stopped_at": AT, "cause": "smell or heat", "reason": "smell at the panel"},
            )
        ),
    }
    long = {}
    for key, text in catalogue(language).texts.items():
        if not (key.startswith("remind.") and key.rpartition(".")[2].startswith("sms")):
            continue
        params = {
            name: AT if name.endswith("_at") else DAY if name.endswith("_on") else None
            for name in text.places()
        } | {name: SAID.get(name, ours.get(name)) for name in text.places() & {*SAID, *ours}}
        unknown = {name for name, value in params.items() if value is None} - LEFT_OUT
        assert unknown == set()
        said = short(words.text(key, params))
        if said.part_count > 2:
            long[key] = f"{said.part_count}: {said.text}"
    assert long == {}
