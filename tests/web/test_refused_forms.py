"""Forms sent without what they ask for: nothing fails, and what is wrong is said on the page."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from live_site import BATHROOM, CURING_AT, HEATING_AT, HEATING_UP, OFFICE_PERSON, ROOT, live_site
from site_walk import OF_ONE_JOB, Found, client_of, walk

from curecal.book.link_purpose import LinkPurpose

if TYPE_CHECKING:
    from collections.abc import Iterator

    from live_site import LiveSite

pytestmark = pytest.mark.slow

# Where a script says what waits on the telephone: no answer of the server's.
_WAITS_ON_PHONE = re.compile(r'<div id="kept".*?</template>', re.DOTALL)


@pytest.fixture(scope="module")
def one_job(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveSite]:
    file = ROOT / "examples" / "bathroom" / "job.toml"
    with live_site(tmp_path_factory.mktemp("nonsense"), (file,)) as found:
        yield found


def pages_of(site: LiveSite) -> Iterator[Found]:
    for at, job_id in ((CURING_AT, BATHROOM), (HEATING_AT, HEATING_UP)):
        site.at = at
        for purpose in OF_ONE_JOB:
            yield from walk(site, purpose, job_id, site.secret(job_id, purpose))
    yield from walk(
        site, LinkPurpose.OFFICE, "", site.secrets["", LinkPurpose.OFFICE, OFFICE_PERSON]
    )


def test_a_form_sent_empty_says_so_on_the_page(own_site: LiveSite) -> None:
    """WCAG 4.1.3 and 3.3.1: what is refused is announced."""
    sent, silent = 0, set()
    for one in [one for one in pages_of(own_site) if one.is_page]:
        client = client_of(own_site, one.secret if one.purpose is LinkPurpose.OFFICE else "")
        for form in one.read.forms:
            if form.method != "post":
                continue
            kept = {name: value for name, kind, value in form.fields if kind == "hidden"}
            goal = form.action or one.path
            answer = client.post(goal, data=kept, headers={"Origin": "http://localhost"})
            sent += 1
            body = _WAITS_ON_PHONE.sub("", answer.data.decode(errors="replace"))
            is_said = 'role="alert"' in body or 'role="status"' in body
            if answer.status_code >= 500 or (answer.status_code == 422 and not is_said):
                silent.add(f"{one.purpose} {one.pattern}: {answer.status_code}")
    assert sent
    assert silent == set()


NONSENSE = ("\x00", "a\x00b", "\u202eabc", "9" * 400, "-1e999", "nan", "../../x", "{{7*7}}", "%s%n")
# Years in which zones have offsets of seconds, or the calendar ends.
NONSENSE += ("0026-10-06T08:00", "9999-12-31T23:59", "0001-01-01", "9999-12-31")


@pytest.mark.parametrize("typed", NONSENSE, ids=ascii)
def test_nonsense_in_every_field_breaks_nothing(one_job: LiveSite, typed: str) -> None:
    broken = set()
    pages = [
        one
        for purpose in OF_ONE_JOB
        for one in walk(one_job, purpose, BATHROOM, one_job.secret(BATHROOM, purpose))
        if one.is_page
    ]
    for one in pages:
        client = client_of(one_job, one.secret if one.purpose is LinkPurpose.OFFICE else "")
        for form in one.read.forms:
            if form.method != "post":
                continue
            fields = {name: typed for name, kind, _ in form.fields if kind != "file"}
            for kept in ({}, {"entry_id": f"c-{len(broken):032x}"}):
                sent = {**fields, **kept}
                headers = {"Origin": "http://localhost"}
                answer = client.post(form.action or one.path, data=sent, headers=headers)
                if answer.status_code >= 500:
                    broken.add(f"{one.purpose} {one.pattern} {one.path.rpartition('/')[2]}")
        query = dict.fromkeys(("zone", "layer", "for", "at", "language", "cable"), typed)
        if client.get(one.path.partition("?")[0], query_string=query).status_code >= 500:
            broken.add(f"{one.purpose} {one.pattern}: its query")
    assert broken == set()
