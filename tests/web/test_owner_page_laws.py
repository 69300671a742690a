"""Laws of the owner's page: no permission on it that the plan of that minute does not give.

What a permission is, is read off the page's words, and not asked of the code that wrote them.
"""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from functools import cache
from html.parser import HTMLParser
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st
from planned_pages import PlannedPages, planned_pages
from planning_jobs import cases, evidence
from planning_log import READY, fact, floor, released
from planning_samples import DAY, START, job, layer, sheet, zone
from planning_site import CLIMATE, Morning, Site

from curecal.planning.plan import RELEASED_STATES, Plan
from curecal.trade.site_log import Cause, Energized, HeatStep, Reading, Release, Resumed, Stopped

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curecal.trade.job import Job
    from curecal.trade.site_log import Entry

pytestmark = pytest.mark.slow

HOUR = timedelta(hours=1)
# The words of every sentence that lets somebody switch something on, or go on heating.
PERMISSION = re.compile(
    r"floor is released|is heating up|is in service|Today at most|Set it as|switches it on from"
)
KEEPS_OFF = re.compile(r"leave the floor heating off|Leave the floor heating as it is")


class OwnerPage(HTMLParser):
    """What stands in the answer of a page, and whether it would cover itself."""

    def __init__(self, body: str) -> None:
        super().__init__()
        self.answer, self.is_covered, self.tables = "", False, 0
        self._inside = ""
        self.feed(body)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Enter the answer of a zone."""
        said = dict(attrs)
        if tag == "section" and said.get("class") == "answer":
            self._inside = tag
            self.is_covered = "data-permission" in said
        self.tables += tag == "table"

    def handle_endtag(self, tag: str) -> None:
        """Leave it."""
        if tag == self._inside:
            self._inside = ""

    def handle_data(self, data: str) -> None:
        """Keep its words."""
        if self._inside:
            self.answer += data


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> PlannedPages:
    return planned_pages(tmp_path_factory.mktemp("laws"))


def hold(
    pages: PlannedPages, made: Job, log: Sequence[Entry], at: datetime
) -> tuple[Plan, OwnerPage]:
    """Assert the law for one job, log and instant."""
    here, body = pages.owner_page(made, log, at)
    page, plan = OwnerPage(body), here.plan
    is_given = plan.zones[0].state in RELEASED_STATES
    if PERMISSION.search(page.answer):
        assert is_given, page.answer
        assert page.is_covered, "a permission that would stay there"
        assert not KEEPS_OFF.search(page.answer)
    else:
        assert "leave" in page.answer.lower(), page.answer
    if not is_given:
        assert KEEPS_OFF.search(page.answer), page.answer
        assert page.tables == 0, "set-points before the release"
    return plan, page


@given(data=st.data())
def test_any_job_with_any_log(pages: PlannedPages, data: st.DataObject) -> None:
    case = data.draw(cases())
    hold(pages, case.job, (*case.log, *data.draw(evidence(case))), case.as_of)


@st.composite
def released_lives(draw: st.DrawFn) -> tuple[list[Entry], datetime]:
    """Return the log of a floor that may be released, with this and that missing or added."""
    log = released()
    if draw(st.booleans()):
        log.pop(draw(st.integers(0, len(log) - 1)))
    for number in range(draw(st.integers(0, 4))):
        at = READY + HOUR * draw(st.integers(0, 400))
        kind = draw(st.sampled_from([Energized, HeatStep, Stopped, Resumed, Release, Reading]))
        more: dict[str, object] = {"id": f"x{number}"}
        if kind is HeatStep:
            more["to_c"] = draw(st.sampled_from([20.0, 22.0, 29.0]))
        elif kind is Stopped:
            more["cause"] = draw(st.sampled_from(Cause))
        elif kind is Resumed:
            more["found"] = "a loose wire"
        elif kind is Reading:
            more |= {"place": "floor", "temperature_c": draw(st.floats(-3, 35))}
        log.append(fact(kind, at, **more))
    return log, READY + HOUR * draw(st.integers(-24, 500))


@given(life=released_lives())
def test_a_floor_that_was_released_and_what_came_after(
    pages: PlannedPages, life: tuple[list[Entry], datetime]
) -> None:
    log, at = life
    hold(pages, job(floor()), log, at)


@given(life=released_lives(), cause=st.sampled_from(Cause), minutes=st.integers(1, 120))
def test_a_stop_takes_every_permission_back_at_once(
    pages: PlannedPages, life: tuple[list[Entry], datetime], cause: Cause, minutes: int
) -> None:
    log, at = life
    stop = fact(Stopped, at, id="stop", cause=cause)
    for seen_at in (at, at + timedelta(minutes=minutes)):
        known = [entry for entry in log if entry.recorded <= at]
        _, page = hold(pages, job(floor()), [*known, stop], seen_at)
        assert not PERMISSION.search(page.answer)


@given(life=released_lives(), back=st.integers(3, 120))
def test_a_clock_put_back_gives_nothing_that_it_cannot_know(
    pages: PlannedPages, life: tuple[list[Entry], datetime], back: int
) -> None:
    """The server's clock was put back after a stop came in: the stop lies ahead of it."""
    log, at = life
    stop = fact(Stopped, at, id="stop", cause=Cause.OTHER)
    _, page = hold(pages, job(floor()), [*log, stop], at - timedelta(minutes=back))
    assert not PERMISSION.search(page.answer)
    assert page.tables == 0


@cache
def lived() -> list[Morning]:
    layers = [
        layer("leveler", thickness_m=0.004, duration_s=10_800.0),
        layer(sheet("thinset", heat_d=21.0)),
        layer(sheet("cement grout", heat_d=14.0)),
    ]
    made = job(zone(*layers), climate=CLIMATE)
    return list(Site(made, weather=lambda _day: CLIMATE.air_c, works=lambda _day: True).mornings())


def test_every_morning_of_a_floor_until_it_is_in_service(pages: PlannedPages) -> None:
    seen = set()
    for morning in lived():
        told, page = hold(pages, morning.told.job, morning.log, morning.told.as_of)
        seen.add((told.zones[0].state.value, bool(PERMISSION.search(page.answer))))
    # The law is not met by a page that never permits anything.
    assert {("released", True), ("heating up", True), ("in service", True)} <= seen
    assert {is_permitted for state, is_permitted in seen if state == "curing"} == {False}


@given(hours=st.integers(48, 24 * 60))
def test_no_number_where_nobody_logged_the_steps_before_it(pages: PlannedPages, hours: int) -> None:
    """Switched on, and since then neither a step nor a look at the floor."""
    log = [*released(), fact(Energized, READY + 2 * HOUR)]
    _, page = hold(pages, job(floor()), log, READY + 3 * HOUR)
    assert "Today at most" in page.answer
    _, page = hold(pages, job(floor()), log, READY + 2 * HOUR + hours * HOUR)
    assert "Today at most" not in page.answer


def test_the_samples_are_those_of_a_week_in_march() -> None:
    assert READY == START + 7 * DAY
