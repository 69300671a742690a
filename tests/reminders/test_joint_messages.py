"""What several floors have in common is said once: releases, and the lines of a message."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from reminder_samples import (
    HOUR,
    PEOPLE,
    RULES,
    Clock,
    Post,
    evening,
    evidence,
    job_text,
    plain,
    released,
    url_of,
)

from curecal.job_files import parse_job
from curecal.job_files.days_off import day_off_for
from curecal.reminders.messages.texts import WordedReminder, joined
from curecal.reminders.reminder_rules import shipped_rules
from curecal.reminders.simulation.simulate import messages_of_play, simulate

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

OWNER = "ida@home.example"
CLEAR = datetime(2026, 12, 8, 12, 30, tzinfo=UTC)


def two_floors(**how: str) -> str:
    """Return a job with two floors alike."""
    text = job_text(**how)
    head, _, zone = text.partition("[[zone]]")
    other = zone.replace('id = "hall"', 'id = "bath"').replace('name = "hall"', 'name = "bath"')
    return f"{head}[[zone]]{zone}\n[[zone]]{other}"


@pytest.fixture
def post(tmp_path: Path) -> Iterator[Post]:
    found = Post(url_of(tmp_path), Clock(evening()))
    yield found
    found.close()


def ready(post: Post) -> None:
    """Bring both floors to the day of their release, everything on record and told."""
    post.cycle.run()
    post.clock.go(CLEAR - post.clock.at)
    for zone_id in ("hall", "bath"):
        tables = evidence(CLEAR - HOUR / 2, prefix=zone_id)
        post.note(*({**table, "zone": zone_id} for table in tables))
    post.cycle.run()
    post.mail.sent.clear()
    post.text.sent.clear()
    post.clock.go(timedelta(minutes=1))


def release(post: Post, *zone_ids: str) -> None:
    post.note(
        *({**released(post.clock.at), "id": f"let-{name}", "zone": name} for name in zone_ids)
    )
    post.cycle.run()


def mails_to_owner(post: Post) -> list[str]:
    return [plain(data) for to, data in post.mail.sent if to == OWNER]


def test_two_floors_released_at_once_are_one_mail_to_the_owner(post: Post, tmp_path: Path) -> None:
    post.add(two_floors(), tmp_path)
    ready(post)
    release(post, "hall", "bath")
    [mail] = mails_to_owner(post)
    said = "The floor is ready. The electrician switches it on, Wed 9 Dec, 08:00."
    assert mail.count(said) == 1
    assert mail.startswith(f"Elm Road, bath; Elm Road, hall {said}")
    # A mail with a calendar entry stays one of its own.
    assert [to for to, _ in post.mail.sent].count("sam@sparks.example") == 2
    # What was said in one message is known of both floors: it is not said again.
    post.clock.go(timedelta(minutes=5))
    post.cycle.run()
    assert len(mails_to_owner(post)) == 1


def test_of_two_floors_released_at_once_a_stop_takes_back_the_one_it_is_about(
    post: Post, tmp_path: Path
) -> None:
    post.add(two_floors(), tmp_path)
    ready(post)
    release(post, "hall", "bath")
    post.mail.sent.clear()
    post.clock.go(timedelta(minutes=5))
    halt = {"kind": "stopped", "cause": "crack or loose tile", "reason": "a crack at the door"}
    post.note({"id": "halt", "at": post.clock.at, "zone": "bath", "by": "Robin Mistral", **halt})
    post.cycle.run()
    [mail] = mails_to_owner(post)
    assert mail.startswith("Elm Road, bath All work on this floor must wait.")
    assert "hall" not in mail


def test_a_floor_released_later_has_a_mail_of_its_own(post: Post, tmp_path: Path) -> None:
    post.add(two_floors(), tmp_path)
    ready(post)
    release(post, "hall")
    post.clock.go(timedelta(minutes=10))
    release(post, "bath")
    assert [mail.partition(" The floor")[0] for mail in mails_to_owner(post)] == [
        "Elm Road, hall",
        "Elm Road, bath",
    ]


def test_by_text_message_the_electrician_hears_of_both_floors_at_once(
    post: Post, tmp_path: Path
) -> None:
    people = PEOPLE.replace('email = "sam@sparks.example"', 'phone = "+1 902 555 0111"')
    post.add(two_floors(people=people), tmp_path)
    ready(post)
    release(post, "hall", "bath")
    [(_, text)] = post.text.sent
    assert text.decode() == (
        "Elm Road, bath; Elm Road, hall: the floor is released. "
        "Please switch it on, Wed 9 Dec, 08:00."
    )


@pytest.mark.slow
def test_a_play_counts_two_floors_released_at_once_as_one_message() -> None:
    read = parse_job(two_floors().encode())
    assert read.job is not None
    played = simulate(
        read.job,
        read.log,
        evening(),
        rules=RULES,
        reminder_rules=shipped_rules(),
        day_off=day_off_for(read.job),
    )
    told = [one for one in played.played if one.reminder.kind == "released"]
    numbers = {one.message for one in told if one.reminder.recipient == OWNER}
    assert len(numbers) == 1
    assert messages_of_play(played)[numbers.pop()] == 2


def line(head: str, text: str, *, late: str = "") -> tuple[WordedReminder, bool]:
    whole = f"{head}: {text}" if head else text
    return WordedReminder(whole, head, (text,), ("Ask us.",), whole, late, "(late)"), bool(late)


def test_what_several_floors_have_in_common_is_said_once_under_all_their_heads() -> None:
    said = joined(
        [
            line("Maple 4", "Log a temperature."),
            line("Maple 4", "Start the grout."),
            line("Birch 9", "Log a temperature."),
            line("", "Elm Road is off."),
            line("", "Elm Road is off."),
        ],
    )
    assert said.body.split("\n\n") == [
        "Maple 4; Birch 9\nLog a temperature.",
        "Maple 4\nStart the grout.",
        "Elm Road is off.",
        "Elm Road is off.",
        "Ask us.",
    ]
    assert said.subject == "Maple 4: Log a temperature. (+4)"
    assert said.short.splitlines() == [
        "Maple 4; Birch 9: Log a temperature.",
        "Maple 4: Start the grout.",
        "Elm Road is off.",
    ]


def test_what_comes_late_says_so_of_itself_only() -> None:
    late = "It comes late."
    said = joined(
        [
            line("Maple 4", "Log a temperature."),
            line("Birch 9", "Log a temperature.", late=late),
            line("Alder 1", "Log a temperature.", late=late),
        ],
    )
    assert said.body.split("\n\n")[:2] == [
        "Maple 4\nLog a temperature.",
        f"{late}\nBirch 9; Alder 1\nLog a temperature.",
    ]
    assert said.short.splitlines() == [
        "Maple 4: Log a temperature.",
        "Birch 9; Alder 1: Log a temperature. (late)",
    ]
