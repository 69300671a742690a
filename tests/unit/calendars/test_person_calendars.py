"""One calendar a person over several jobs, with the identities of the jobs' own entries."""

from __future__ import annotations

from dataclasses import replace

from calendar_samples import AS_OF, JOB, RULES, plan

from curecal.calendars import Revision, Stamp, drafts, faults, feeds, stamped
from curecal.calendars.person_calendars import person_calendars
from curecal.planning.plan import Plan
from curecal.trade.job import Person, Role

ZOE = Person(Role.ELECTRICIAN, "Zoë Spark", "zoe@spark.example")
IDA = Person(Role.OWNER, "Ida Fennell")


def published(job_id: str, *people: Person) -> tuple[Plan, tuple[Revision, ...]]:
    made = plan(job=replace(JOB, id=job_id, name=f"Job {job_id}", people=people))
    stamp = Stamp(0, AS_OF)
    found = [stamped(draft, stamp) for feed in feeds(made, rules=RULES) for draft in drafts(feed)]
    return made, tuple(found)


def uids(data: bytes) -> list[str]:
    lines = data.replace(b"\r\n ", b"").decode().split("\r\n")
    starts = [number for number, line in enumerate(lines) if line == "BEGIN:VEVENT"]
    return [lines[number + 1].removeprefix("UID:") for number in starts]


def test_one_person_of_two_jobs_has_one_file_with_both() -> None:
    other = replace(ZOE, name="Z. Spark", email=" ZOE@spark.example")
    jobs = [published("a", ZOE, IDA), published("b", other)]
    made = {one.file_name: one for one in person_calendars(jobs)}
    assert set(made) == {"ida-fennell.ics", "zoe-spark.ics"}
    wanted = [
        revision.uid
        for _, revisions in jobs
        for revision in revisions
        if revision.audience == "electrician"
    ]
    assert sorted(uids(made["zoe-spark.ics"].data)) == sorted(wanted)
    assert len(wanted) == 4
    for one in made.values():
        assert faults(one.data) == ()
        assert f"X-WR-CALNAME:{one.name}\r\n".encode() in one.data


def test_a_person_in_two_roles_reads_both_and_two_of_one_name_have_two_files() -> None:
    both = Person(Role.CREW_LEAD, "Lee", "lee@a.example", roles=(Role.OWNER,))
    namesake = Person(Role.ELECTRICIAN, "Lee", "lee@b.example")
    made = person_calendars([published("a", both, namesake)])
    assert [one.file_name for one in made] == ["lee.ics", "lee-2.ics"]
    assert len(uids(made[0].data)) > len(uids(made[1].data))


def test_who_reads_no_calendar_or_left_has_none() -> None:
    tester = Person(Role.TESTER, "Tess")
    gone = replace(IDA, until_at=AS_OF)
    assert person_calendars([published("a", tester, gone)]) == ()


def test_a_name_without_plain_letters_still_has_a_file() -> None:
    (one,) = person_calendars([published("a", replace(IDA, name="浴室"))])
    assert one.file_name == "calendar.ics"
