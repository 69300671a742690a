"""What is asked of the site, the floor, its heating and the people; what is known is not asked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curecal.cli.new.interview import chosen, judge_of, key_of
from curecal.errors import ErrorCode, ValueRefused

if TYPE_CHECKING:
    from curecal.cli.new.interview import Interview
    from curecal.records import PlainTable

_AIR = {"imperial": "66 °F", "metric": "19 °C"}
# Whose inspection the first two codes want before the cable is covered.
_INSPECTED = ("NEC", "CEC")
# A city misspelled, and not another one.
_SAME_CITY = 0.75
_LABEL = ("voltage", "power", "resistance", "breaker", "protection")


def ask_site(view: Interview) -> None:
    """Ask for the job's name, its clock, its electrical code, and the units people read."""
    job = view.table("job")
    if "name" not in job:
        job["name"] = view.ask("name", judge_of("job", "name"), is_required=True)
    if "timezone" not in job:
        job["timezone"] = view.ask("timezone", _place, is_required=True)
        view.tell("clock", {"timezone": job["timezone"]}, indent=2)
    from curecal.job_files.site_place import usual_code
    from curecal.trade.job import Code, Units

    usual = usual_code(job["timezone"])
    if "code" not in job:
        choices = [code.value for code in Code]
        job["code"] = view.choose("code", choices, default=(usual or Code.OTHER).value)
    if "units" not in job:
        default = Units.IMPERIAL if usual is Code.NEC else Units.METRIC
        job["units"] = view.choose("units", [unit.value for unit in Units], default=default.value)


def _place(typed: str) -> str:
    """Return a time zone by its name, or by its city where only one has that."""
    import zoneinfo

    from curecal.toml_files.shown import nearest, shorten
    from curecal.toml_files.time_zones import countries_of

    try:
        return judge_of("job", "timezone")(typed)
    except ValueRefused as error:
        city = "_".join(typed.split()).casefold()
        by_city: dict[str, list[str]] = {}
        for zone in sorted(zoneinfo.available_timezones()):
            by_city.setdefault(zone.rpartition("/")[2].casefold(), []).append(zone)
        found = [zone for zone in by_city.get(city, ()) if countries_of(zone)]
        if len(found) == 1:
            return found[0]
        if "/" in typed or error.code != ErrorCode.TIMEZONE_UNKNOWN:
            raise
        # Most cities have no clock of their own name, and one that sounds alike is far away.
        meant = by_city.get(nearest(city, list(by_city), least=_SAME_CITY), [""])[0]
        raise ValueRefused("answer-city", text=shorten(typed), nearest=meant) from None


def ask_floor(view: Interview, zone: PlainTable) -> None:
    """Ask what one thermostat heats, how the room is used, and what is walked on."""
    from curecal.trade.names import comparable_name

    if "name" not in zone:
        others = {comparable_name(other.get("name", "")) for other in view.draft["zone"]}

        def judged(typed: str) -> str:
            if comparable_name(typed) in others:
                raise ValueRefused("name-twice", text=typed)
            return judge_of("zone", "name")(typed)

        zone["name"] = view.ask("zone-name", judged, is_required=True)
    if "room" not in zone:
        rooms = key_of("zone", "room").choices
        zone["room"] = view.choose("room", rooms, default=rooms[0])
    if "covering" not in zone:
        zone["covering"] = _covering(view)


def _covering(view: Interview) -> PlainTable:
    from curecal.toml_files.schema import COVERING_ALIASES
    from curecal.trade.job import CoveringFamily, CoveringKind

    words = [kind.value for kind in CoveringKind]

    def judged(typed: str) -> str:
        name = " ".join(typed.casefold().split())
        return COVERING_ALIASES.get(name) or chosen(typed, words)

    kind = CoveringKind(view.ask("covering", judged, is_required=True))
    covering: PlainTable = {"kind": kind.value}
    if kind.family is CoveringFamily.TILE:
        covering["size"] = view.ask("tile-size", judge_of("covering", "size"))
    elif kind.family in {CoveringFamily.WOOD, CoveringFamily.VINYL}:
        covering["laid"] = view.choose("laid", ("glued", "floating"), default="glued")
    return {key: value for key, value in covering.items() if value is not None}


def ask_climate(view: Interview) -> None:
    """Ask for the air to plan with, the coldest it may get, and what lies below."""
    expected = view.table("expected")
    if "air" not in expected:
        default = _AIR[view.draft["job"].get("units", "metric")]
        air = view.ask("air", judge_of("expected", "air"), default=default, is_required=True)
        expected["air"] = air
        coldest = view.ask("coldest", lambda typed: _not_above(typed, air))
        if coldest is not None:
            expected["coldest"] = coldest
    if "below" not in expected:
        expected["below"] = view.choose("below", key_of("expected", "below").choices)
    if "heated_by" not in expected:
        choices = key_of("expected", "heated_by").choices
        expected["heated_by"] = view.choose("heated-by", choices, default=choices[0])


def _not_above(typed: str, air: str) -> str:
    from curecal import units

    coldest = judge_of("expected", "coldest")(typed)
    coldest_c, air_c = units.temperature(coldest), units.temperature(air)
    if not coldest_c <= air_c:
        raise ValueRefused("coldest-above-expected", coldest_c=coldest_c, air_c=air_c)
    return coldest


def ask_heating(view: Interview, zone: PlainTable) -> None:
    """Ask for the label of the cable, what protects it, and its maker's own wait."""
    heating = zone.setdefault("heating", {})
    if "cable" in heating:
        return
    if not any(key not in heating for key in _LABEL):
        return
    view.tell("label")
    for key in _LABEL:
        if key not in heating:
            example = "GFCI 5 mA" if view.draft["job"]["code"] in _INSPECTED else "RCD 30 mA"
            found = view.ask(key, judge_of("heating", key), params={"example": example})
            if found is not None:
                heating[key] = found
    if "wait" not in heating and "data_sheet" not in heating:
        wait = view.ask("heating-wait", judge_of("heating", "wait"))
        source = wait and view.ask("heating-sheet", judge_of("heating", "data_sheet"))
        if source is not None:
            heating |= {"wait": wait, "data_sheet": source}
        elif wait is not None:
            view.tell("wait-left-out", indent=2)


def ask_people(view: Interview) -> None:
    """Ask who leads, connects, owns and inspects, and how each is reached."""
    people = view.table("people")
    roles = ["crew_lead", "electrician", "owner"]
    if view.draft["job"]["code"] in _INSPECTED:
        roles.append("inspector")
    known = {*people, *view.shared.get("people", {})}
    if any(role not in known for role in roles):
        view.tell("people")
    for role in roles:
        if role in known:
            continue
        params = {"role": view.words.person(role)}
        name = view.ask("person", judge_of("person", "name"), params=params)
        if name is None:
            continue
        person: PlainTable = {"name": name}
        for key in ("license", "email", "phone"):
            if key != "license" or role == "electrician":
                found = view.ask(key, judge_of("person", key), params={"name": name})
                if found is not None:
                    person[key] = found
        people[role] = person
