"""What an entry is for, as a record and as the text that its UID is made of."""

from __future__ import annotations

import pytest

from curecal.calendars.purpose import Purpose, PurposeKind
from curecal.planning.plan import HeatUpPurpose, VisitKind
from curecal.trade.hold_codes import HoldCode
from curecal.trade.site_log import VisitFor

# Pinned: with another text every entry that people hold would be cancelled and told anew.
TEXTS = {
    "step": Purpose(PurposeKind.STEP),
    "gate": Purpose(PurposeKind.GATE),
    "keep the room": Purpose(PurposeKind.KEEP_ROOM),
    "do not switch on": Purpose(PurposeKind.OFF),
    "ask before switching on": Purpose(PurposeKind.ASK),
    "appointment test and connect": Purpose(PurposeKind.APPOINTMENT, VisitFor.TEST_AND_CONNECT),
    "may switch on": Purpose(PurposeKind.MAY),
    "walk": Purpose(PurposeKind.WALK),
    "shower": Purpose(PurposeKind.SHOWER),
    "furniture": Purpose(PurposeKind.FURNITURE),
    "nothing yet": Purpose(PurposeKind.NOTHING_YET),
    "test-after-laying": Purpose(PurposeKind.HOLD, HoldCode.TEST_AFTER_LAYING),
    "inspection-before-concealment": Purpose(
        PurposeKind.HOLD, HoldCode.INSPECTION_BEFORE_CONCEALMENT
    ),
    "visit test-and-connect": Purpose(PurposeKind.VISIT, VisitKind.CONNECTION),
    "visit energize, 2": Purpose(PurposeKind.VISIT, VisitKind.ENERGIZE, count=2),
    "heat-up bare screed": Purpose(PurposeKind.HEAT_UP, HeatUpPurpose.BARE_SCREED),
    "heat-up first heat step 3": Purpose(PurposeKind.HEAT_UP, HeatUpPurpose.FIRST_HEAT, 3),
    "heat-up after repair step 12, 2": Purpose(
        PurposeKind.HEAT_UP, HeatUpPurpose.AFTER_REPAIR, 12, 2
    ),
}


@pytest.mark.parametrize("text", TEXTS)
def test_a_purpose_is_its_text_and_its_text_is_the_purpose(text: str) -> None:
    assert TEXTS[text].text == text
    assert Purpose.read(text) == TEXTS[text]


@pytest.mark.parametrize(
    "text", ["", "visit", "visit other", "heat-up", "hold point", "run", ", 2"]
)
def test_what_no_entry_is_for_is_no_purpose(text: str) -> None:
    assert Purpose.read(text) is None
