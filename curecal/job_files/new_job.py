"""The job file that a few answers make: short, commented, and read back without an error."""

from __future__ import annotations

from collections.abc import Sequence

from curecal.records import Record, record

_POURED = ("concrete", "screed", "mortar bed", "leveler")


@record(kw_only=True)
class NewJob(Record):
    """What somebody answered. Texts stand as typed; reading the file back judges them."""

    id: str
    name: str
    timezone: str
    zone: str
    layers: tuple[str, ...]
    units: str = "metric"
    code: str = "other"
    room: str = "living space"
    air: str = "19 °C"
    below: str = "heated room"
    voltage: str | None = None
    power: str | None = None
    crew_lead: str | None = None
    electrician: str | None = None
    owner: str | None = None


def job_template(answers: NewJob) -> str:
    """Return the text of a job file: TOML with comments on what to fill in."""
    lines = [
        "# Layers stand bottom to top. Every quantity has its unit.",
        "",
        "[job]",
        f"id = {quoted(answers.id)}  # leave it: calendars know the job by it",
        f"name = {quoted(answers.name)}",
        f"timezone = {quoted(answers.timezone)}",
        f"units = {quoted(answers.units)}",
        f"code = {quoted(answers.code)}",
        "",
        "[expected]  # the room until readings come in; it must not be warmed by this floor",
        f"air = {quoted(answers.air)}",
        '# humidity = "55 %"',
        f"# coldest = {quoted(answers.air)}  # the coldest air; if left out: 5 °C (9 °F) less",
        f"below = {quoted(answers.below)}  # heated room, ground, unheated or outdoors",
        "",
        *_people(answers),
        "[[zone]]  # what one thermostat heats",
        f"name = {quoted(answers.zone)}",
        f"room = {quoted(answers.room)}",
        'covering = "ceramic tile"',
        "",
        "[zone.heating]",
        _figure("voltage", answers.voltage, "240 V"),
        _figure("power", answers.power, "640 W"),
        '# resistance = "90 Ω"  # from the label',
        '# wait = "28 d"  # the heating maker\'s own wait; with data_sheet',
        '# data_sheet = "installation guide, p. 14"',
    ]
    names: list[str] = []
    for material in answers.layers:
        lines += _layer(material, names)
    lines += [
        "",
        "# A product by its own sheet comes before a class:",
        '# [material."mortar on site"]',
        '# kind = "thinset"',
        '# data_sheet = "rev. 2026-02, p. 2"',
        '# rated = { temperature = "70 °F", humidity = "50 %" }',
        '# wait = { grout = "24 h", heat = "21 d" }',
        "",
        "# Facts from the site:",
        "# [[log]]",
        "# at = 2026-11-30T16:00:00Z",
        '# kind = "air"',
        '# air = "19 °C"',
        "",
    ]
    return "\n".join(lines)


def quoted(text: str) -> str:
    """Return a text as a TOML string: quotes, backslashes and control characters escaped."""
    escaped = "".join(_escaped(sign) for sign in text)
    return f'"{escaped}"'


def _escaped(sign: str) -> str:
    if sign in '"\\':
        return f"\\{sign}"
    if sign < " " or sign == "\x7f":
        return f"\\u{ord(sign):04X}"
    return sign


def _figure(key: str, value: str | None, example: str) -> str:
    return f"{key} = {quoted(value)}" if value else f"# {key} = {quoted(example)}"


def _people(answers: NewJob) -> list[str]:
    people = (
        ("crew_lead", answers.crew_lead),
        ("electrician", answers.electrician),
        ("owner", answers.owner),
    )
    lines: list[str] = []
    for role, name in people:
        if name:
            lines += [f"[people.{role}]", f"name = {quoted(name)}", ""]
    return lines


def _layer(material: str, names: list[str]) -> Sequence[str]:
    """Return one layer; a second of the same material gets a number in its name."""
    number = names.count(material) + 1
    names.append(material)
    name = material if number == 1 else f"{material} {number}"
    lines = ["", "[[zone.layer]]", f"name = {quoted(name)}", f"material = {quoted(material)}"]
    if any(poured in material for poured in _POURED):
        lines.append('# thickness = "10 mm"  # the deepest point governs')
    lines.append("# done = 2026-11-30T14:30:00  # or planned_finish")
    return lines
