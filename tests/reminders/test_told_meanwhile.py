"""What is told after a round began, or by a clock a little ahead, counts from when it happened."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from reminder_samples import DAY, HOUR, Clock, Post, job_text, url_of

from curecal.reminders.replanning.replan_notes import moved_jobs
from curecal.trade.site_log import Done, Stopped

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from curecal.reminders.messages.send_context import PlannedNow

BEGAN = datetime(2026, 11, 10, 14, tzinfo=UTC)
SECOND = timedelta(seconds=1)


@pytest.fixture
def post(tmp_path: Path) -> Iterator[Post]:
    """Give a floor whose grout is not in, and of which somebody looked five days ago."""
    found = Post(url_of(tmp_path), Clock(BEGAN - DAY))
    found.add(job_text().replace("done = 2026-11-06T12:00:00\n", ""), tmp_path)
    look = {"id": "look", "at": BEGAN - 5 * DAY, "kind": "air", "zone": "hall", "air": "20 °C"}
    found.note({**look, "by": "Robin Mistral"})
    found.cycle.run()
    found.clock.go(DAY)
    yield found
    found.close()


def grouted(at: datetime, **more: object) -> dict[str, object]:
    entry = {"id": "grouted", "kind": "done", "zone": "hall", "layer": "grout"}
    return {**entry, "at": at, "by": "Robin Mistral", **more}


def stopped(at: datetime) -> dict[str, object]:
    entry = {"id": "halt", "kind": "stopped", "zone": "hall", "cause": "crack or loose tile"}
    return {**entry, "at": at, "reason": "a crack", "by": "Robin Mistral"}


def planned_of(post: Post, now: datetime) -> PlannedNow:
    with post.book.reading() as connection:
        planned = post.context.plan(post.context.know(connection, "elm-road"), now)
    assert planned is not None
    return planned


@pytest.mark.parametrize("later", [SECOND, 30 * SECOND, 14 * 60 * SECOND])
def test_a_layer_finished_while_a_round_goes_on_is_as_old_as_it_is(
    post: Post, later: timedelta
) -> None:
    finished_at = BEGAN + later
    post.note(grouted(finished_at))
    planned, right = planned_of(post, BEGAN), planned_of(post, finished_at)
    (done,) = [entry for entry in planned.log if isinstance(entry, Done)]
    assert done.at == finished_at
    # Counted from the look before, the floor would be let go on five days earlier.
    window = planned.plan.zones[0].energize.window
    assert window == right.plan.zones[0].energize.window
    assert window is not None
    # 28 days after tiling, as no label says less: the fallback the plan names.
    assert window.earliest == finished_at + 28 * DAY


def test_a_layer_finished_by_a_clock_hours_ahead_waits_for_its_instant(post: Post) -> None:
    post.note(grouted(BEGAN + 3 * HOUR), stopped(BEGAN + 3 * HOUR))
    log = planned_of(post, BEGAN).log
    assert [entry for entry in log if isinstance(entry, Done)] == []
    # What stops a floor does not wait for any clock.
    (stop,) = [entry for entry in log if isinstance(entry, Stopped)]
    assert stop.at <= BEGAN
    later = planned_of(post, BEGAN + 4 * HOUR).log
    assert [entry.at for entry in later if isinstance(entry, Done)] == [BEGAN + 3 * HOUR]


def test_what_happened_before_counts_from_then_whatever_clock_wrote_it_down(post: Post) -> None:
    finished_at = BEGAN - 2 * DAY
    post.note(grouted(finished_at, recorded=BEGAN + 3 * HOUR))
    (done,) = [entry for entry in planned_of(post, BEGAN).log if isinstance(entry, Done)]
    assert (done.at, done.recorded) == (finished_at, finished_at)


def test_a_stop_by_a_clock_a_little_ahead_leaves_at_once(post: Post) -> None:
    post.note(stopped(BEGAN + 30 * SECOND))
    with post.book.reading() as connection:
        assert moved_jobs(connection, post.context, now=BEGAN).by_fact == ("elm-road",)
    post.cycle.run()
    assert {row.recipient for row in post.messages("stopped") if row.state == "sent"} >= {
        "robin@crew.example"
    }
