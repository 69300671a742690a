"""What a calendar entry is for, as a record; as text only in the entry's key and in its file.

The text is part of the entry's UID: it never changes, or everybody's entries would be new ones.
"""

from __future__ import annotations

import re
from enum import StrEnum

from curecal.planning.plan import HeatUpPurpose, VisitKind
from curecal.records import Record, record
from curecal.trade.hold_codes import HoldCode
from curecal.trade.site_log import VisitFor


class PurposeKind(StrEnum):
    """The kinds of entries."""

    STEP = "step"
    GATE = "gate"
    HOLD = "hold point"
    KEEP_ROOM = "keep the room"
    HEAT_UP = "heat-up"
    VISIT = "visit"
    APPOINTMENT = "appointment"
    OFF = "do not switch on"
    ASK = "ask before switching on"
    MAY = "may switch on"
    WALK = "walk"
    SHOWER = "shower"
    FURNITURE = "furniture"
    NOTHING_YET = "nothing yet"


_CODES: dict[PurposeKind, type[StrEnum]] = {
    PurposeKind.HOLD: HoldCode,
    PurposeKind.HEAT_UP: HeatUpPurpose,
    PurposeKind.VISIT: VisitKind,
    PurposeKind.APPOINTMENT: VisitFor,
}
_TEXT = re.compile(r"(?P<what>.+?)(?: step (?P<step>\d{1,4}))?(?:, (?P<count>\d{1,4}))?", re.DOTALL)


@record
class Purpose(Record):
    """What an entry is for. `code` says which hold point, heat-up or visit it is about.

    `step` counts the set-points of a heat-up from 1; `count` tells several of one kind apart.
    """

    kind: PurposeKind
    code: str = ""
    step: int = 0
    count: int = 1

    @property
    def text(self) -> str:
        """Return it as the text that keys and files hold."""
        what = self.code if self.kind is PurposeKind.HOLD else f"{self.kind} {self.code}".strip()
        step = f" step {self.step}" if self.step else ""
        count = f", {self.count}" if self.count > 1 else ""
        return f"{what}{step}{count}"

    @classmethod
    def read(cls, text: str) -> Purpose | None:
        """Return the purpose that a text holds; None for one that no entry of ours has."""
        found = _TEXT.fullmatch(text)
        if found is None:
            return None
        what, step, count = found["what"], int(found["step"] or 0), int(found["count"] or 1)
        for kind in PurposeKind:
            codes: list[str] = [code.value for code in _CODES[kind]] if kind in _CODES else [""]
            for code in codes:
                if cls(kind, code).text == what:
                    return cls(kind, code, step, count)
        return None
