"""What a material's sheet cannot mean: heat before its own waits, a rating in the cold."""

from __future__ import annotations

from curecal.material_classes.rules import load_rules
from curecal.toml_files.spans import (
    RAPID_HEAT_S,
    SHORT_FROST_S,
    SHORT_HEAT_S,
    SHORT_S,
    SHORT_SEALED_S,
    SHORT_UNDER_COVER_S,
)
from curecal.toml_files.table_reader import Read, TableReader, ask_short_wait
from curecal.trade.data_sheets import DataSheet, FixedWait, Milestone, TableWait, Wait
from curecal.trade.findings import Severity

# A sheet heated before these was misread; before the later ones the longer wait counts.
_BEFORE_HEAT = frozenset({Milestone.WALK, Milestone.GROUT, Milestone.COVER})
_PUTS_HEAT_OFF = frozenset({Milestone.SEAL, Milestone.WET, Milestone.LOAD})


def check_heat(reader: TableReader, sheet: DataSheet, waits: Read) -> None:
    """Note a sheet that would be heated before what it may bear sooner.

    Before walking, grouting or covering it was misread; what comes later in the life of a floor
    (sealing, water, load) only puts the heat off.

    Rule: R10.
    """
    own = [*sheet.waits.items(), *((Milestone.COVER, wait) for wait in sheet.covers.values())]
    stated = [
        (milestone, _at_rating(wait, sheet.rated_c))
        for milestone, wait in own
        if wait.source is sheet.source and milestone in _BEFORE_HEAT | _PUTS_HEAT_OFF
    ]
    heats = {
        "heat": sheet.waits.get(Milestone.HEAT),
        "heat_sealed": sheet.heat_sealed,
    }
    for key, heat in heats.items():
        if heat is None or heat.source is not sheet.source:
            continue
        heat_s = _at_rating(heat, sheet.rated_c)
        for milestone, other_s in stated:
            if heat_s is not None and other_s is not None and not heat_s >= other_s:
                params = {"wait_s": heat_s, "milestone": milestone.value, "other_s": other_s}
                if milestone in _BEFORE_HEAT:
                    reader.find(Severity.ERROR, "heat-before-own-wait", waits.at(key), params)
                else:
                    reader.find(Severity.WARNING, "heat-put-off", waits.at(key), params)


def check_short(reader: TableReader, sheet: DataSheet, read: Read, waits: Read) -> None:
    """Ask about a wait that is shorter than such a product's: a unit or decimal point slipped."""
    usual = {"heat": RAPID_HEAT_S if sheet.rapid else SHORT_HEAT_S}
    if not sheet.rapid:
        usual |= {key: least_s for (kind, key), least_s in SHORT_S.items() if kind is sheet.kind}
    for key, least_s in usual.items():
        wait = _own_wait(sheet, key)
        time_s = None if wait is None else _at_rating(wait, sheet.rated_c)
        if time_s is not None:
            written = waits.raw.get(key)
            ask_short_wait(reader, time_s, least_s, written, waits.at(key))
    sealed = sheet.heat_sealed
    own_sealed_s = None
    if sealed is not None and sealed.source is sheet.source:
        own_sealed_s = _at_rating(sealed, sheet.rated_c)
    for table, key, time_s, least_s in (
        (waits, "frost", waits.get("frost"), SHORT_FROST_S),
        (waits, "heat_sealed", own_sealed_s, SHORT_SEALED_S),
        (read, "cured_under_cover", read.get("cured_under_cover"), SHORT_UNDER_COVER_S),
    ):
        if time_s is not None:
            ask_short_wait(reader, time_s, least_s, table.raw.get(key), table.at(key))


def _own_wait(sheet: DataSheet, key: str) -> Wait | None:
    """Return the wait that the sheet itself states, of several covers the shortest."""
    found = [sheet.waits.get(Milestone(key))] if key != "cover" else [*sheet.covers.values()]
    own = [
        (time_s, wait)
        for wait in found
        if wait is not None
        and wait.source is sheet.source
        and (time_s := _at_rating(wait, sheet.rated_c)) is not None
    ]
    return min(own, key=lambda timed: timed[0])[1] if own else None


def check_rating(reader: TableReader, sheet: DataSheet, read: Read, rated: Read) -> None:
    """Ask about a rating no maker is likely to print: it would give full credit in the cold.

    Rule: R9.
    """
    if read.get("sure", False):
        return
    least_c = max(load_rules().rating.least_c, sheet.minimum_c)
    if "temperature" in rated and not sheet.rated_c >= least_c:
        params = {"rated_c": sheet.rated_c, "least_c": least_c}
        reader.find(Severity.ERROR, "rating-cold", rated.at("temperature"), params)
    else:
        _check_minimum(reader, sheet, read)


def _check_minimum(reader: TableReader, sheet: DataSheet, read: Read) -> None:
    """Note a product that would not harden at the temperature its own times hold at."""
    waits = [*sheet.waits.values(), *sheet.covers.values()]
    waits += [] if sheet.heat_sealed is None else [sheet.heat_sealed]
    warmest = [w.amount.points[-1][0] for w in waits if isinstance(w.amount, TableWait)]
    if "minimum" in read:
        warmest.append(sheet.rated_c)
    if warmest and not sheet.minimum_c <= min(warmest):
        params = {"minimum_c": sheet.minimum_c, "rated_c": min(warmest)}
        reader.find(Severity.ERROR, "minimum-above-rated", read.at("minimum"), params)


def _at_rating(wait: Wait, rated_c: float) -> float | None:
    """Return a wait [s] near its sheet's rated temperature, None where thickness decides."""
    match wait.amount:
        case FixedWait(time_s):
            return time_s
        case TableWait(points):
            return min(points, key=lambda row: abs(row[0] - rated_c))[1]
        case _:
            return None
