"""Codes to sentences: findings, states, hold points, rules, steps, errors, and the answer."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import field
from datetime import date, datetime
from typing import TYPE_CHECKING

from curecal.errors import CurecalError
from curecal.instants import local_day
from curecal.planning.plan import (
    HeatUp,
    HeatUpPurpose,
    Hold,
    HoldState,
    State,
    Step,
    most_change,
)
from curecal.records import Record, record
from curecal.trade.findings import Finding, Message, Params
from curecal.trade.job import Job, Units
from curecal.trade.rules import Rules
from curecal.trade.sources import Basis, Source
from curecal.units import show_ramp
from curecal.words.catalogue import DEFAULT_LANGUAGE, PLACE, Catalogue, catalogue, places
from curecal.words.values import (
    Reader,
    clean,
    electrical,
    show,
    show_at,
    show_day,
    with_decimal_sign,
)

if TYPE_CHECKING:
    from curecal.planning.comparison.plan_snapshot import HeatUpSnapshot, HoldSnapshot

OPTIONAL = re.compile(r"\[\?(.*?)\?\]", re.DOTALL)
_NOTHING: Params = {}
_RULES = frozenset({"rule", "governing"})


@record
class Words(Record):
    """One language for one reader. `titles` are the rules' titles by id: what people read."""

    catalogue: Catalogue
    reader: Reader
    titles: Mapping[str, str] = field(default_factory=dict)

    def text(self, key: str, params: Mapping[str, object] = _NOTHING) -> str:
        """Return a text with its places filled."""
        count = next(
            (
                value
                for name, value in params.items()
                if name.rpartition("_")[2] == "count" and isinstance(value, int | float)
            ),
            None,
        )
        template = self.catalogue.text(key).form(count, self.catalogue.language)

        def optional(match: re.Match[str]) -> str:
            names = places(match[1])
            return match[1] if all(params.get(name) not in (None, "") for name in names) else ""

        def fill(match: re.Match[str]) -> str:
            name = match[1]
            if name not in params:
                raise CurecalError("text-place-empty", key=key, place=name)
            shown = self._shown(name, params[name])
            # A day may end with a stop ("5. Jan."), and so may the sentence.
            stops_twice = shown.endswith(".") and match.string.startswith(".", match.end())
            return shown.removesuffix(".") if stops_twice else shown

        ours = electrical(OPTIONAL.sub(optional, template), self.catalogue, self.reader)
        return PLACE.sub(fill, ours)

    def _shown(self, name: str, value: object) -> str:
        if isinstance(value, Message):
            return self.message(value).rstrip(". ")
        if name in _RULES and isinstance(value, str) and value in self.titles:
            return self.titles[value]
        return show(name, value, self.catalogue, self.reader)

    def name(self, group: str, code: str) -> str:
        """Return the name of one of our own codes."""
        return self.text(f"name.{group}.{code}")

    def at(self, at: datetime, *, down: bool = False) -> str:
        """Return an instant in the site's time."""
        return show_at(at, self.catalogue, self.reader, down=down)

    def hours(self, start_at: datetime, end_at: datetime) -> str:
        """Return the hours of a visit: its day once, unless it ends on another."""
        start, end = self.at(start_at), self.at(end_at)
        day, _, wall = end.rpartition(", ")
        same = day == start.rpartition(", ")[0]
        return self.text("value.hours", {"start": start, "end": wall if same else end})

    def day(self, day: date) -> str:
        """Return a day."""
        return show_day(day, self.catalogue, self.reader.today)

    def settings(self, heat_up: HeatUp | HeatUpSnapshot) -> tuple[str, ...]:
        """Return the set-points of a heat-up, none over its limit or its step as shown."""
        steps_c = [step.to_c for step in heat_up.steps]
        step_k = most_change(heat_up.basis, heat_up.steps, heat_up.step_k)
        shown = show_ramp(steps_c, self.reader.units.value, step_k=step_k, both=True)
        return tuple(with_decimal_sign(setting, self.catalogue) for setting in shown)

    def condition(self, heat_up: HeatUp) -> str:
        """Return what comes before the set-points of a heat-up that may still move."""
        kind = heat_up.purpose.replace(" ", "-")
        if heat_up.purpose is HeatUpPurpose.BARE_SCREED and heat_up.basis == "flow":
            kind = f"{kind}-by-water"
        return self.text(f"report.ramp-provisional-{kind}")

    def sentence(self, message: Message) -> str:
        """Return what a message says as a sentence of its own."""
        return whole(self.message(message))

    def message(self, message: Message) -> str:
        """Return what a message says, to stand in a sentence."""
        return self._said("say", message.code, message.params)

    def remedy(self, message: Message) -> str:
        """Return what to do about it; empty where nothing is to be done."""
        return self._said("do", message.code, message.params)

    def finding(self, finding: Finding) -> tuple[str, str]:
        """Return what a finding says, and what to do about it."""
        groups = ("finding", "message")
        return (
            self._said("say", finding.code, finding.params, groups),
            self._said("do", finding.code, finding.params, groups),
        )

    def step(self, step: Step) -> str:
        """Return one line of reasoning."""
        return self.text(f"step.{step.code}", step.params)

    def error(self, error: CurecalError) -> str:
        """Return an error in one line."""
        said = whole(self._said("say", error.code, error.params, ("error", "finding", "message")))
        do = self._said("do", error.code, error.params, ("error", "finding", "message"))
        return f"{said} {do}".strip()

    def hold(self, hold: Hold | HoldSnapshot) -> str:
        """Return what a hold point asks for, of several cables which one."""
        what = self.name("hold", hold.code)
        return f"{what}, {clean(hold.cable)}" if hold.cable else what

    def person(self, role: str) -> str:
        """Return who somebody is on the job."""
        return self.name("role", role)

    def state(self, state: State) -> str:
        """Return a zone's state."""
        return self.name("state", state.value)

    def hold_state(self, state: HoldState) -> str:
        """Return a hold point's state."""
        return self.name("holdstate", state.value)

    def source(self, source: Source) -> str:
        """Return where a number comes from, its weight first.

        What a person typed stands as it is. What comes with the program is told in English; in
        another language its weight stands, and the published works by their numbers.
        """
        weight = self.name("basis", source.basis.value)
        is_typed = source.basis is Basis.DATA_SHEET
        text = source.text if is_typed or self._is_english else source.works
        return f"{weight}: {clean(text)}" if text else weight

    @property
    def _is_english(self) -> bool:
        return self.catalogue.language == DEFAULT_LANGUAGE

    def rule(self, rule: str) -> str:
        """Return a rule's title; its id is for machines."""
        try:
            return self.titles[rule]
        except KeyError:
            raise CurecalError("rule-unknown", rule=rule) from None

    def _said(
        self,
        part: str,
        code: str,
        params: Params,
        groups: tuple[str, ...] = ("message", "finding"),
    ) -> str:
        """Return one part of the first group that knows a code; the remedy may be silent."""
        for group in groups:
            if f"{group}.{code}.say" in self.catalogue:
                key = f"{group}.{code}.{part}"
                return self.text(key, params) if key in self.catalogue else ""
        raise CurecalError(
            "text-missing", key=f"{groups[0]}.{code}", language=self.catalogue.language
        )


def ended(text: str) -> str:
    """Return a text with a stop at its end, once: a day may end with one ("5. Jan.")."""
    return text if text.endswith((".", ":", "!", "?")) else f"{text}."


def whole(text: str) -> str:
    """Return a clause as a sentence: its first letter large, a stop at its end.

    The name of a file at its beginning stays as it is.
    """
    if not text:
        return text
    said = ended(text)
    first = said.split(maxsplit=1)[0].rstrip(".:!?,")
    if "/" in first or "." in first:
        return said
    return said[0].upper() + said[1:]


def words_for(
    job: Job,
    rules: Rules,
    *,
    units: Units | None = None,
    language: str = DEFAULT_LANGUAGE,
    as_of: datetime | None = None,
) -> Words:
    """Return the words for a job's reader, in English unless a language is given.

    The terminal is English; what people get is in their own (`curecal.words.reader_language`).
    `as_of` is when a text is read that is not kept: days near it are shown without their year.
    """
    today = None if as_of is None else local_day(as_of, job.tz)
    reader = Reader(units=units or job.units, tz=job.tz, code=job.code, today=today)
    titles = {rule.id: clean(rule.title) for rule in rules.by_id.values()}
    return Words(catalogue(language), reader, titles)


def plain_words(language: str = DEFAULT_LANGUAGE) -> Words:
    """Return words for when there is no job yet: metric, UTC, neutral electrical words."""
    return Words(catalogue(language), Reader())
