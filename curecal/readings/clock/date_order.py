"""In which order the figures of a file's dates stand: decided by evidence, never by habit."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from datetime import date
from itertools import pairwise

from curecal.readings.table.export_types import (
    Answers,
    AskedFor,
    Order,
    QuestionError,
    Understood,
    UnderstoodBy,
    median_of,
)
from curecal.readings.table.table_start import CellTexts
from curecal.readings.table.timestamps import (
    COUNTED,
    DAY_S,
    RADIX,
    SPELLED,
    Dates,
    day_of,
    spelled_days,
)
from curecal.records import Record, record

_SHIFT = RADIX.bit_length() - 1
# A step that comes three times is a habit of the logger; a twentieth of all is one as well.
_NEEDED = 3
_FEW = 20
# Two weeks of a reading a minute: enough to know the order, little to look through.
_SAMPLE = 20_000
# No logger in use writes less often, so a longer step is a break and not a habit.
_LONGEST_STEP_S = 6 * 3600
# Fewer days run forward in a wrong order too.
_MONOTONE = 4
_START = re.compile(r"start|first|begin|launch|activat|trip|logg|record", re.IGNORECASE)
_END = re.compile(r"\bend|stop|finish|last", re.IGNORECASE)
_WORD = re.compile(r"[^\W\d_]+")
# What begins or ends has to be the readings: a warranty starts as well, and a calibration ends.
_OF_READINGS = re.compile(
    r"(?:re)?start\w*|first|beg[ai]n\w*|launch\w*|activat\w*|trip|log(?:g\w*)?|record\w*|end\w*"
    r"|stop\w*|finish\w*|last|dates?|times?|day|timestamp|of|at|on|from|the|is|was|readings?"
    r"|measur\w*|samples?|sampling|data|session|run|device|unit|am|pm|utc|gmt",
    re.IGNORECASE,
)


@record
class DateChange(Record):
    """Two neighboring rows of different dates: their dates' places, and seconds in their days."""

    before: int
    after: int
    step_s: int


@record
class DatesSeen(Record):
    """What the rows say of their dates, in the order of the file."""

    rows: Counter[int]
    changes: tuple[DateChange, ...]
    nominal_s: int
    first: int
    last: int


@record
class Trial(Record):
    """An order tried on a file: its days, the rows that are none, how its steps come out."""

    order: Order
    days: tuple[date | None, ...]
    wrong: int
    regular: int
    forward: int
    backward: int


def try_order(runs: Sequence[Sequence[int]]) -> DatesSeen:
    """Return what the wall times of each device say of their dates."""
    rows: Counter[int] = Counter()
    changes: list[DateChange] = []
    steps: Counter[int] = Counter()
    ends = [0, 0]
    for number, walls in enumerate(runs):
        places = [wall >> _SHIFT for wall in walls]
        rows.update(places)
        changes += [
            DateChange(places[i], places[i + 1], walls[i + 1] % RADIX - walls[i] % RADIX)
            for i, (one, other) in enumerate(pairwise(places))
            if one != other
        ]
        near = zip(pairwise(walls[:_SAMPLE]), pairwise(places[:_SAMPLE]), strict=True)
        steps.update(abs(b - a) for (a, b), (one, other) in near if one == other and a != b)
        if number == 0:
            ends = [places[0], places[-1]]
    nominal_s = median_of(steps) if steps else DAY_S
    return DatesSeen(rows, tuple(changes), nominal_s, ends[0], ends[1])


def decide_order(
    dates: Dates, seen: DatesSeen, preamble: Sequence[CellTexts], answers: Answers, path: str
) -> tuple[Understood, tuple[date | None, ...]]:
    """Return the order of a file's dates with its evidence, and the day of each date.

    Args:
        dates: The dates met.
        seen: What the rows say of them.
        preamble: The lines above the header.
        answers: What the person says of the order; the last year a reading can be from.
        path: What to call the file in a refusal.

    Returns:
        The order with its evidence, and the day at each date's place; None where it is none.

    Raises:
        QuestionError: Nothing decides between two orders, or not one of them fits.
    """
    orders = dates.orders()
    trials = [_trial(order, dates, seen, answers) for order in orders]
    total = sum(seen.rows.values())
    some = _shown(dates)
    if len(orders) == 1:
        by = UnderstoodBy.SPELLED if dates.form.kind else UnderstoodBy.YEAR_FIRST
        if dates.form.style in COUNTED:
            by = UnderstoodBy.COUNTED
        if not dates.form.kind and answers.order is not Order.YMD:
            _refuse_swapped(trials[0], dates, seen, path)
        return Understood(orders[0].value, by, some), trials[0].days
    few = max(min(_NEEDED, total), total // _FEW + 1)
    possible = [trial for trial in trials if trial.wrong < few]
    if answers.order is not None:
        chosen = next((trial for trial in possible if trial.order is answers.order), None)
        if chosen is None:
            raise QuestionError(
                AskedFor.ORDER,
                "readings-order-impossible",
                path=path,
                order=answers.order,
                text=some,
            )
        return Understood(chosen.order.value, UnderstoodBy.OPTION, some), chosen.days
    found = _by_evidence(possible, seen, preamble)
    if found is None:
        known = [trial.order.value for trial in possible] or [order.value for order in orders]
        raise QuestionError(
            AskedFor.ORDER, "readings-order-unknown", path=path, text=some, orders=", ".join(known)
        )
    trial, by = found
    return Understood(trial.order.value, by, _proof(trial, by, dates)), trial.days


def _trial(order: Order, dates: Dates, seen: DatesSeen, answers: Answers) -> Trial:
    found = [day_of(triple, order) for triple in dates.triples]
    days = [None if day and day.year > answers.latest_year else day for day in found]
    if order is Order.YMD and any(len(triple[0]) == 1 for triple in dates.triples):
        # A year is written with two figures.
        days = [None] * len(days)
    return _counted(days, order, seen)


def _counted(days: Sequence[date | None], order: Order, seen: DatesSeen) -> Trial:
    """Return what the rows say of dates that are these days."""
    wrong = sum(count for place, count in seen.rows.items() if days[place] is None)
    regular = forward = backward = 0
    for change in seen.changes:
        before, after = days[change.before], days[change.after]
        if before is None or after is None:
            continue
        step_s = (after - before).days * DAY_S + change.step_s
        forward += step_s > 0
        backward += step_s < 0
        regular += 0 < abs(step_s) <= _regular_s(seen)
    return Trial(order, tuple(days), wrong, regular, forward, backward)


def _refuse_swapped(trial: Trial, dates: Dates, seen: DatesSeen, path: str) -> None:
    """Refuse dates with the year first that go on over midnight only with day and month swapped.

    A spreadsheet that takes 5/11 for the eleventh of May writes it so, and what it writes looks
    certain: a week is read as half a year with gaps of a month.

    Raises:
        QuestionError: The dates are swapped, unless a person says that they are not.
    """
    days = [day_of((year, day, month), Order.YMD) for year, month, day in dates.triples]
    other = _counted(days, Order.YMD, seen)
    if other.regular > trial.regular:
        raise QuestionError(
            AskedFor.ORDER, "readings-order-swapped", path=path, text=_shown(dates), order=Order.YMD
        )


def _regular_s(seen: DatesSeen) -> int:
    """Return how long a step over midnight may be to be one of the logger's own."""
    return min(2 * seen.nominal_s, _LONGEST_STEP_S)


def _by_evidence(
    possible: Sequence[Trial], seen: DatesSeen, preamble: Sequence[CellTexts]
) -> tuple[Trial, UnderstoodBy] | None:
    """Return the only order that fits, and what shows it."""
    if len(possible) == 1:
        (only,) = possible
        one_way = not (only.forward and only.backward)
        # A slip of the pen in a few rows is over 12 as well; it fits none of its neighbors.
        return (only, UnderstoodBy.OVER_TWELVE) if only.regular or one_way else None
    regular = [trial for trial in possible if trial.regular]
    if len(regular) == 1:
        return regular[0], UnderstoodBy.REGULAR
    if regular:
        return None
    marked = [trial for trial in possible if _is_marked(trial, seen, preamble)]
    if len(marked) == 1:
        return marked[0], UnderstoodBy.PREAMBLE
    rising = [
        trial
        for trial in possible
        if trial.forward >= _MONOTONE and not trial.backward and not trial.wrong
    ]
    others = [trial for trial in possible if trial not in rising]
    if len(rising) == 1 and all(trial.backward > 1 for trial in others):
        return rising[0], UnderstoodBy.MONOTONE
    return None


def _is_marked(trial: Trial, seen: DatesSeen, preamble: Sequence[CellTexts]) -> bool:
    """Return whether the preamble spells out the day of the first or the last row."""
    first, last = trial.days[seen.first], trial.days[seen.last]
    for row in preamble:
        text = " ".join(row)
        name = text.partition(":")[0] or text
        days = spelled_days(text)
        words = _WORD.findall(SPELLED.sub(" ", name))
        if not all(_OF_READINGS.fullmatch(word) for word in words):
            continue
        if _START.search(name) and first in days:
            return True
        if _END.search(name) and last in days:
            return True
    return False


def _proof(trial: Trial, by: UnderstoodBy, dates: Dates) -> str:
    """Return a date of the file that shows the evidence."""
    sign = dates.form.separator
    if by == "over 12":
        for triple in dates.triples:
            if day_of(triple, trial.order) is not None and any(
                day_of(triple, other) is None for other in Order if other is not trial.order
            ):
                return sign.join(triple)
    return _shown(dates)


def _shown(dates: Dates) -> str:
    return dates.form.separator.join(dates.triples[0]) if dates.triples else ""
