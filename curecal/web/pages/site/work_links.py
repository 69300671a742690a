"""Links to forms: the few that a day on site needs are large, the others stand behind them."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import urlencode

from curecal.planning.plan import Hold, HoldState, State, ZonePlan
from curecal.records import Record, record
from curecal.trade.hold_codes import HoldCode
from curecal.trade.site_log import Stage
from curecal.web.forms.form_offers import OF_A_VISIT, is_offered, title_of
from curecal.web.forms.form_table import FORMS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curecal.web.forms.form_types import EntryForm
    from curecal.web.page_request import PageRequest

# Which form meets which hold point, and what is chosen in it already.
_STAGES = {
    HoldCode.TEST_ON_DELIVERY: Stage.DELIVERY,
    HoldCode.TEST_AFTER_LAYING: Stage.LAID,
    HoldCode.TEST_AFTER_EMBEDDING: Stage.EMBEDDED,
    HoldCode.TEST_BEFORE_CONNECTION: Stage.CONNECTION,
    HoldCode.TEST_AFTER_CHISELLING: Stage.IN_SERVICE,
}
_FORMS = {
    HoldCode.INSPECTION_BEFORE_CONCEALMENT: "inspection",
    HoldCode.TEST_POINTS: "points",
    HoldCode.MOISTURE_TEST: "moisture",
    HoldCode.ASK_THE_MAKER: "sound",
    HoldCode.COVERED_WET: "sound",
    HoldCode.CEMENT_ON_SULFATE: "sound",
    HoldCode.PROTECTION: "protection",
    HoldCode.THERMOSTAT: "thermostat",
    HoldCode.CONNECTION: "connected",
    HoldCode.CURE: "air",
    HoldCode.RELEASE: "release",
}


@record
class FormLink(Record):
    """A form with its address and title."""

    href: str
    title: str
    is_alarm: bool = False


@record
class ToDo(Record):
    """A hold point that is outstanding: in words, with its form where one is offered.

    `state` is said where it failed; `by` names whose work it is where no form is offered.
    """

    what: str
    state: str
    by: str
    link: FormLink | None


def form_links(
    page: PageRequest, names: Sequence[str], chosen: dict[str, str] | None = None
) -> list[FormLink]:
    """Return links to forms, those that are offered.

    Args:
        page: The request.
        names: The forms' names in order.
        chosen: What is chosen in them already.
    """
    return [
        form_link(page, FORMS[name], chosen or {})
        for name in names
        if is_offered(page, FORMS[name])
    ]


def other_links(page: PageRequest, shown: Sequence[str]) -> list[FormLink]:
    """Return links to every form that is offered and not shown already.

    Args:
        page: The request.
        shown: The names of those that are.
    """
    left = [name for name in FORMS if name not in shown and name not in OF_A_VISIT]
    return form_links(page, left)


def form_link(page: PageRequest, form: EntryForm, chosen: dict[str, str]) -> FormLink:
    """Return a link to a form.

    Args:
        page: The request.
        form: The form.
        chosen: What is chosen in it already, as far as it asks for that.
    """
    own = {
        key: value
        for key, value in chosen.items()
        if form.field_of(key) or (key == "zone" and form.asks_zone)
    }
    query = f"?{urlencode(own)}" if own else ""
    title = title_of(page, form)
    return FormLink(f"{page.home}/note/{form.name}{query}", title, form.is_alarm)


def to_do(page: PageRequest, zone: ZonePlan, holds: Sequence[Hold]) -> list[ToDo]:
    """Return hold points that are outstanding, each with the form that meets it.

    Args:
        page: The request.
        zone: The floor.
        holds: The hold points.
    """
    found = []
    for hold in holds:
        link = _link_of(page, zone, hold)
        what = page.words.hold(hold)
        found.append(
            ToDo(
                what=what[:1].upper() + what[1:],
                state="" if hold.state is HoldState.UNMET else page.words.hold_state(hold.state),
                by="" if link else page.words.person(hold.by.value),
                link=link,
            )
        )
    return found


def is_stopped(zone: ZonePlan) -> bool:
    """Return whether a floor is stopped: then lifting the stop comes before all else."""
    return zone.state is State.STOPPED


def _link_of(page: PageRequest, zone: ZonePlan, hold: Hold) -> FormLink | None:
    name = "test" if hold.code in _STAGES else _FORMS.get(hold.code)
    form = FORMS.get(name or "")
    if form is None or not is_offered(page, form):
        return None
    chosen: dict[str, str] = {}
    if form.asks_zone and len(page.job.zones) > 1:
        chosen["zone"] = zone.zone.id
    if form.name == "test":
        chosen = {"cable": f"{zone.zone.id}/{hold.cable or ''}", "stage": _STAGES[hold.code].value}
    elif form.field_of("layer") and hold.layer_id:
        chosen["layer"] = f"{zone.zone.id}/{hold.layer_id}"
    return form_link(page, form, chosen)
