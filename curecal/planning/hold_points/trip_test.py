"""What a word for a trip test says: whether the device tripped, and whether it may not have."""

from __future__ import annotations

import re
from enum import StrEnum

from curecal.planning.site_log.said import listed, plain, says_no


class Tripped(StrEnum):
    """What a trip test was, by its words. `DOUBTFUL` may be a failure, `UNKNOWN` is not known."""

    YES = "yes"
    NO = "no"
    DOUBTFUL = "doubtful"
    UNKNOWN = "unknown"


_GOOD = listed(
    "passed pass passes ok okay tripped trips yes good fine works working worked successful "
    "successfully ausgelost bestanden gut declenche reussi disparado scattato conforme"
)
_BESIDE = listed(
    "it the a all both device breaker gfci gfi rcd rcbo rccb fi ddr trip test tested tester button "
    "by with using pressing pressed press pushing pushed push on at in after within was is and "
    "reset resets result correctly properly immediately instantly promptly once as should "
    "required time current self"
)
# "Trips constantly" is no test; nor does a device that is stuck say anything good.
_ODD = (
    r"\b(?:fail\w*|stuck|dead|keeps|constantly|always|again|itself|random\w*|nuisance|unreliabl\w*|"
    r"slow\w*|late|never|cannot|can\'?t|won\'?t|didn\'?t|doesn\'?t|don\'?t|isn\'?t|wasn\'?t|"
    r"hardly|barely|only|sometimes|but|except|until|replace\w*|bad|error|fault\w*)\b"
)
_FAILED = (
    r"^(?:\W*(?:it|the|trip|test|button|device|rcd|gfci)\b)*\W*fail|"
    r"\b(?:did not|didn\'?t|does not|doesn\'?t|will not|won\'?t|would not|wouldn\'?t|"
    r"cannot|can\'?t) trip\b"
)
_FIGURE = r"(?P<sign>[<>]?) ?(?P<value>\d+(?:[.,]\d+)?) ?(?P<unit>ms|ma|s)\b"


def read_trip(text: str | None, *, most_a: float, most_s: float) -> Tripped:
    """Return what somebody's words for a trip test say.

    Only words that are known, with figures that are a trip, are a passed test.

    Rule: R24, R25.

    Args:
        text: the result as written: "tripped", "tripped in 18 ms", "failed".
        most_a: the greatest residual current at which it may trip [A].
        most_s: how long it may take at most [s].

    Returns:
        Whether it tripped.
    """
    said = plain(text).replace("\u2019", "'")
    if re.search(_FAILED, said):
        return Tripped.NO
    # Nothing but signs is no word for anything.
    if not any(each.isalnum() for each in said):
        return Tripped.UNKNOWN
    if re.search(_ODD, said) or says_no(said):
        return Tripped.DOUBTFUL
    figures = list(re.finditer(_FIGURE, said))
    if not all(_is_trip(figure, most_a=most_a, most_s=most_s) for figure in figures):
        return Tripped.DOUBTFUL
    rest = re.sub(_FIGURE, " ", said)
    words = re.findall(r"[^\W_]+", rest)
    timed = any(figure["unit"] != "ma" for figure in figures)
    known = set(words) <= _GOOD | _BESIDE and "?" not in said
    return Tripped.YES if known and (timed or _GOOD & set(words)) else Tripped.UNKNOWN


def _is_trip(figure: re.Match[str], *, most_a: float, most_s: float) -> bool:
    value = float(figure["value"].replace(",", "."))
    if figure["unit"] == "ma":
        within = 0.0 < value / 1000.0 <= most_a + 1e-12
    else:
        within = 0.0 < value / (1000.0 if figure["unit"] == "ms" else 1.0) <= most_s
    return within and figure["sign"] != ">"
