"""Which forms a person is offered: nobody sees one that nobody they may name could sign."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curecal.book.link_purpose import LinkPurpose
from curecal.planning.plan import State
from curecal.planning.site_log.authority import (
    ENTERERS,
    LICENSED,
    PHOTOGRAPHED,
    Evidence,
    license_of,
    may_give,
)
from curecal.trade.findings import FindingCode
from curecal.trade.names import comparable_name
from curecal.trade.site_log import Cause, Result
from curecal.web.forms.form_table import FORMS
from curecal.web.forms.form_types import EntryForm

if TYPE_CHECKING:
    from collections.abc import Collection

    from curecal.trade.job import Person, Role
    from curecal.web.page_request import PageRequest

_RESULTS = {
    Result.PASSED: Evidence.INSPECTION,
    Result.NOT_REQUIRED: Evidence.INSPECTION_NOT_REQUIRED,
}
OF_A_VISIT = frozenset({"visit-confirm", "visit-move", "visit-decline", "visit-done"})
"""What is said of an appointment that stands."""


def offered_form(page: PageRequest, name: str) -> EntryForm | None:
    """Return a form by its name, if it is there for whoever asks; None else.

    Args:
        page: The request.
        name: The form's name in the address.
    """
    form = FORMS.get(name)
    return form if form is not None and is_offered(page, form) else None


def is_offered(page: PageRequest, form: EntryForm) -> bool:
    """Return whether a form is there for the link's person on this job now.

    Args:
        page: The request.
        form: The form.
    """
    if not _is_for(page, form) or not signers(page, form):
        return False
    if form.name == "lift":
        return any(zone.state is State.STOPPED for zone in page.here.plan.zones)
    if form.name in OF_A_VISIT:
        return any(visit.stands for visit in page.here.plan.appointments)
    return form.name != "done" or any(
        item.planned and not item.layer.existing
        for zone in page.here.plan.zones
        for item in zone.layers
    )


def _is_for(page: PageRequest, form: EntryForm) -> bool:
    """Return whether a link opens a form; the office's opens each, for what it was told."""
    return page.link.purpose is LinkPurpose.OFFICE or page.link.purpose in form.purposes


def signers(page: PageRequest, form: EntryForm) -> tuple[Person, ...]:
    """Return who may have done what a form tells, as far as the link's person may type it.

    The person themselves, if they may sign; for whoever may enter for others, those who may.

    Args:
        page: The request.
        form: The form.
    """
    wanted = evidences_of(page, form)
    enters = not page.roles.isdisjoint(ENTERERS) and Evidence.RELEASE not in wanted
    own = comparable_name(page.link.person)
    names: dict[str, Person] = {}
    for person in page.job.people:
        name = comparable_name(person.name)
        if name in names or not person.is_on_the_job(page.now):
            continue
        roles = page.roles if name == own else person.every_role
        if (name == own or enters) and _may_sign(page, person.name, roles, wanted):
            names[name] = person
    # Whoever types is asked first about themselves.
    return tuple(sorted(names.values(), key=lambda one: comparable_name(one.name) != own))


def evidences_of(page: PageRequest, form: EntryForm) -> tuple[Evidence, ...]:
    """Return what a form's entry can prove on this job now.

    Args:
        page: The request.
        form: The form.
    """
    if form.name != "lift" or not _is_stopped_electrically(page):
        return form.evidence
    return (Evidence.RESUMED_ELECTRICAL,)


def choice_evidence(form: EntryForm, key: str, value: str) -> Evidence | None:
    """Return what a choice makes of an entry, where the choice decides; None for bad news.

    Args:
        form: The form.
        key: The key of the choice.
        value: The choice.
    """
    if form.name == "inspection" and key == "result":
        return _RESULTS.get(Result(value))
    return form.evidence[0] if len(form.evidence) == 1 else None


def choices_offered(
    page: PageRequest, form: EntryForm, key: str, choices: tuple[str, ...]
) -> list[str]:
    """Return the choices of a field that somebody whom the person may name could sign.

    Args:
        page: The request.
        form: The form.
        key: The field's key.
        choices: Its choices.
    """
    people = signers(page, form)
    offered = []
    for value in choices:
        wanted = choice_evidence(form, key, value)
        if wanted is None or any(may_give(person.every_role, wanted) for person in people):
            offered.append(value)
    return offered


def title_of(page: PageRequest, form: EntryForm) -> str:
    """Return a form's title, as its button says it as well."""
    title = page.text(f"forms.{form.name}.title")
    return title[:1].upper() + title[1:]


def needs_picture(evidence: Collection[Evidence]) -> bool:
    """Return whether what somebody else did counts only with a picture of the paper or meter."""
    return bool(PHOTOGRAPHED.intersection(evidence))


def _may_sign(
    page: PageRequest, name: str, roles: Collection[Role], wanted: tuple[Evidence, ...]
) -> bool:
    if not wanted:
        return True
    licensed = license_of(page.job.people, name) is not None
    return any(may_give(roles, one) and (licensed or one not in LICENSED) for one in wanted)


def _is_stopped_electrically(page: PageRequest) -> bool:
    """Return whether what stops the job now is lifted by an electrician only."""
    causes = {
        finding.params["cause"]
        for finding in page.here.plan.findings
        if finding.code == FindingCode.STOPPED
    }
    return any(Cause(str(cause)).is_electrical for cause in causes)
