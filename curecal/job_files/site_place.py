"""Where the site is: its clock, its electrical code and its holidays tell of one country."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from curecal.toml_files.table_reader import TableReader
from curecal.toml_files.time_zones import countries_of
from curecal.trade.findings import Severity
from curecal.trade.job import Code

# Where one of the codes that change what is tested and inspected is the usual one.
_CODES: Mapping[str, Code] = MappingProxyType({"US": Code.NEC, "CA": Code.CEC, "GB": Code.BS_7671})


def check_code(reader: TableReader, timezone: str, code: Code) -> None:
    """Note a code that is not the usual one where the site's clock is.

    Without its code, a job loses the inspection before the cable is covered.

    Rule: R25.
    """
    usual = _usual(timezone)
    # NEC and BS 7671 are used far from home too, CEC is not.
    if code not in usual and (usual or code is Code.CEC):
        nearest = min(usual).value if usual else ""
        params = {"timezone": timezone, "text": code.value, "nearest": nearest}
        reader.find(Severity.WARNING, "code-not-of-place", "job.code", params)


def usual_code(timezone: str) -> Code | None:
    """Return the one electrical code that is usual where a clock is; None where it is open."""
    usual = _usual(timezone)
    return next(iter(usual)) if len(usual) == 1 else None


def _usual(timezone: str) -> set[Code]:
    return {found for place in countries_of(timezone) if (found := _CODES.get(place)) is not None}


def check_holidays(reader: TableReader, timezone: str, holidays: str | None) -> None:
    """Note holidays of another country than the site's clock: by a wrong clock all hours are off.

    Rule: R26.
    """
    if holidays is not None and holidays.partition("-")[0] not in countries_of(timezone):
        params = {"timezone": timezone, "text": holidays}
        reader.find(Severity.WARNING, "holidays-not-of-place", "work.holidays", params)
