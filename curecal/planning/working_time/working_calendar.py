"""Working time on site: the next working instant, work that fills hours, days to start on."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta, tzinfo

from curecal.instants import add, local_at, local_day
from curecal.records import Record, record
from curecal.trade.job import Work

DayOff = Callable[[date], str | None]

_DAY = timedelta(days=1)

# A calendar whose every day is off would never end the search; two years hold every real one.
SEARCH_DAYS = 731
# No layer takes longer than two months of work; who looks further back finds the past.
_LONGEST_WORK_DAYS = 62


@record
class Calendar(Record):
    """Work hours, days off and the site's zone: everything local days are decided with."""

    work: Work
    tz: tzinfo
    day_off: DayOff

    def works_on(self, day: date) -> bool:
        """Return whether work begins on a local day."""
        return self.day_off(day) is None

    def opens(self, day: date) -> datetime:
        """Return the start of work on a local day, as an instant."""
        return local_at(day, self.work.start, self.tz)

    def closes(self, day: date) -> datetime:
        """Return the end of the work that begins on a local day, as an instant.

        Rule: R26; hours that pass midnight end on the next day.
        """
        ends_on = day + _DAY if self.work.passes_midnight else day
        return local_at(ends_on, self.work.end, self.tz)

    def shift_day(self, at: datetime) -> date:
        """Return the local day that an instant is worked on: after midnight, the day before.

        Rule: R26.
        """
        day = local_day(at, self.tz)
        return day - _DAY if self.work.passes_midnight and at <= self.closes(day - _DAY) else day

    def next_working(self, at: datetime) -> datetime | None:
        """Return the first working instant at or after `at`; None if no day within reach works."""
        day = self.shift_day(at)
        for _ in range(SEARCH_DAYS):
            if self.works_on(day) and at < self.closes(day):
                return max(at, self.opens(day))
            day += _DAY
        return None

    def run(
        self, at: datetime, duration_s: float | None, *, split: bool
    ) -> tuple[datetime, datetime] | None:
        """Return start and finish of work that may begin at `at`.

        Work that may be split fills working hours over as many days as it needs. Work that may
        not be split starts on the first day with room for all of it, or at the opening of a day
        when it is longer than any day has hours.

        Rule: R26.

        Args:
            at: not before this instant.
            duration_s: working time [s]; None for one working day.
            split: whether a night may stand in it.

        Returns:
            Start and finish as instants, or None where no day works.
        """
        start = self.next_working(at)
        if start is None:
            return None
        first_on = self.shift_day(start)
        full_s = (self.closes(first_on) - self.opens(first_on)).total_seconds()
        # Nobody said how long: a working day, rather than no time at all.
        left_s = full_s if duration_s is None else duration_s
        if not split:
            return self._in_one_piece(start, left_s)
        begun = start
        while True:
            closes = self.closes(self.shift_day(start))
            room_s = (closes - start).total_seconds()
            if left_s <= room_s:
                return begun, add(start, left_s)
            left_s -= room_s
            following = self.next_working(closes)
            if following is None:
                return None
            start = following

    def _in_one_piece(self, start: datetime, needed_s: float) -> tuple[datetime, datetime] | None:
        day = self.shift_day(start)
        # What has no room left today waits for a morning; longer than any day, it starts there.
        if start > self.opens(day) and add(start, needed_s) > self.closes(day):
            following = self.next_working(self.closes(day))
            if following is None:
                return None
            start = following
        return start, add(start, needed_s)

    def latest_start(
        self, finish_by: datetime, duration_s: float | None, *, split: bool
    ) -> datetime | None:
        """Return the last day's opening from which work still finishes by an instant.

        Args:
            finish_by: the instant the work must be finished by.
            duration_s: working time [s]; None for one working day.
            split: whether a night may stand in it.

        Returns:
            An instant, or None where none is found within two months before.
        """
        day = local_day(finish_by, self.tz)
        # Mornings only: a last start to the minute would claim a precision no site has.
        for back in range(_LONGEST_WORK_DAYS):
            tried = day - back * _DAY
            if not self.works_on(tried):
                continue
            done = self.run(self.opens(tried), duration_s, split=split)
            if done is not None and done[1] <= finish_by:
                return done[0]
        return None

    def start_on(self, at: datetime, *, working_day: bool) -> date | None:
        """Return the first local day whose start of work is at or after `at`.

        Rule: R20.

        Args:
            working_day: whether it must also be a working day (an electrician comes).

        Returns:
            A local day, or None where no day within two years works.
        """
        day = local_day(at, self.tz)
        for _ in range(SEARCH_DAYS):
            if at <= self.opens(day) and (not working_day or self.works_on(day)):
                return day
            day += _DAY
        return None
