"""Languages: plural forms, weekdays, months and numbers as CLDR has them (Babel is the oracle)."""

from __future__ import annotations

import importlib
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta

import pytest
from plan_samples import AS_OF, RULES, job, zone

from curecal.cli.main import COMMANDS
from curecal.planning.site_log.authority import in_order
from curecal.trade.findings import Message
from curecal.trade.job import Person, Role, Units
from curecal.words import reader_language as reader_language_module
from curecal.words.catalogue import Text, catalogue, languages, places
from curecal.words.plural_forms import FORMS_OF, plural_form
from curecal.words.reader_language import language_of, reader_language
from curecal.words.sentences import OPTIONAL, words_for
from curecal.words.values import Reader, show, show_day

Needs = Callable[[str], str]

COUNTS = [*range(1200), 1_000_000, 2_000_000, 1_000_001, 0.5, 1.5, 2.5, 29.6, 1000.1]


@pytest.mark.parametrize("language", languages())
def test_a_count_wants_the_form_that_cldr_gives_it(language: str, needs: Needs) -> None:
    needs("babel")
    rule = importlib.import_module("babel").Locale(language).plural_form
    differing = {
        count: plural_form(language, count)
        for count in COUNTS
        if plural_form(language, count) != rule(count)
    }
    assert differing == {}
    assert set(FORMS_OF[language]) == set(rule.tags) | {"other"}


@pytest.mark.parametrize("language", languages())
def test_weekdays_and_months_are_cldrs_short_names(language: str, needs: Needs) -> None:
    needs("babel")
    dates = importlib.import_module("babel.dates")
    texts = catalogue(language)
    # CLDR counts Monday as 0.
    days = dates.get_day_names("abbreviated", locale=language)
    months = dates.get_month_names("abbreviated", locale=language)
    assert [texts.text(f"weekday.{day + 1}").other for day in range(7)] == [
        days[day] for day in range(7)
    ]
    assert [texts.text(f"month.{month}").other for month in range(1, 13)] == [
        months[month] for month in range(1, 13)
    ]


@pytest.mark.parametrize("language", languages())
def test_numbers_have_the_decimal_sign_of_their_language(language: str, needs: Needs) -> None:
    needs("babel")
    sign = importlib.import_module("babel.numbers").get_decimal_symbol(language)
    texts = catalogue(language)
    assert texts.text("value.decimal-sign").other == sign
    metric = Reader(units=Units.METRIC)
    assert show("bed_c", 17.5, texts, metric) == f"17{sign}5 °C"
    assert show("wait_s", 29.6 * 86400, texts, metric).startswith(f"29{sign}6 ")
    assert show("product", "Bed 2.5", texts, metric) == "Bed 2.5"


@pytest.mark.parametrize("language", languages())
def test_every_text_of_several_forms_has_those_of_its_language(language: str) -> None:
    lacking = {
        key: sorted(text.forms)
        for key, text in catalogue(language).texts.items()
        if text.forms and {*text.forms, "other"} != set(FORMS_OF[language])
    }
    assert lacking == {}


@pytest.mark.parametrize("language", languages())
def test_parts_that_drop_hang_on_the_same_places(language: str) -> None:
    """A part that drops for another reason would leave something out in one language alone."""

    def parts(text: Text) -> list[list[str]]:
        return sorted(sorted(places(part[1])) for part in OPTIONAL.finditer(text.other))

    english = catalogue("en").texts
    differing = [
        key for key, text in catalogue(language).texts.items() if parts(text) != parts(english[key])
    ]
    assert differing == []


@pytest.mark.parametrize("language", sorted(set(languages()) - {"en"}))
def test_the_words_to_be_typed_stay_as_they_are(language: str) -> None:
    """Commands, keys and choices are input: translated, they would be refused."""
    commands = "|".join(COMMANDS)
    typed = re.compile(rf"curecal (?:{commands})\b|--[a-z-]+|\b[a-z]+(?:_[a-z]+)+\b|\bsure = true")
    english = catalogue("en").texts
    lost = {}
    for key, text in catalogue(language).texts.items():
        wanted = set(typed.findall(re.sub(r"\{.*?\}", "", english[key].other)))
        missing = wanted - set(typed.findall(re.sub(r"\{.*?\}", "", text.other)))
        if missing:
            lost[key] = sorted(missing)
    assert lost == {}


@pytest.mark.parametrize("language", languages())
def test_no_two_days_of_two_years_look_alike(language: str) -> None:
    texts = catalogue(language)
    first = date(2027, 1, 1)
    shown = [show_day(first + timedelta(days=day), texts) for day in range(731)]
    assert len(set(shown)) == 731


def test_a_reader_reads_their_own_language_else_the_jobs_else_english(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(reader_language_module, "languages", lambda: ("de", "en", "fr"))
    german = replace(job(zone()), language="de")
    assert reader_language(german, "fr") == "fr"
    assert reader_language(german, None) == "de"
    assert reader_language(german, "tlh") == "de"
    assert reader_language(replace(german, language="tlh"), None) == "en"


def test_a_calendar_of_several_is_in_the_language_all_of_them_read(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(reader_language_module, "languages", lambda: ("de", "en", "fr"))
    lead = Person(Role.CREW_LEAD, "Robin", language="fr")
    crew = Person(Role.CREW, "Kim", language="fr")
    site = replace(job(zone()), language="de", people=(lead, crew))
    both = (Role.CREW_LEAD, Role.CREW)
    assert language_of(site, both, AS_OF) == "fr"
    assert language_of(site, (Role.OWNER,), AS_OF) == "de"
    differing = replace(site, people=(lead, replace(crew, language=None)))
    assert language_of(differing, both, AS_OF) == "de"


def test_no_word_of_ours_stands_in_for_what_people_type() -> None:
    # A floor called "floor" and a person called "owner" keep their names.
    typed = {
        "address",
        "by",
        "cable",
        "device",
        "entered_by",
        "entry_id",
        "found",
        "id",
        "job",
        "key",
    }
    typed |= {"job_id", "layer", "name", "path", "person", "place", "reason", "room", "text"}
    typed |= {"key", "told_by", "under", "zone"}
    groups = {key.split(".")[1] for key in catalogue("en").texts if key.startswith("name.")}
    assert groups & typed == set()


@pytest.mark.parametrize("language", languages())
def test_what_people_typed_stays_in_every_language(language: str) -> None:
    words = words_for(job(zone()), RULES, language=language)
    below = {"layer": "tile", "done_at": AS_OF, "under": "ground", "earlier_at": AS_OF}
    told = {"entry": "done", "told_at": AS_OF, "told_by": "tester", "corrected_at": AS_OF}
    twice = {"device": "air", "entry_id": "photo", "reading_place": "surface"}
    assert words.text("remind.still-curing.subject", {"place": "floor"}).startswith("floor")
    assert "ground" in words.message(Message("done-before-below", below))
    assert "owner" in words.message(Message("entry-withdrawn", {**told, "by": "owner"}))
    assert "photo" in words.message(Message("readings-place-twice", twice))
    missing = {"key": "expected", "means": "", "example": "[expected]"}
    assert "expected" in words.message(Message("key-missing", missing))
    assert words.catalogue.text("name.file_part.expected").other not in words.message(
        Message("key-missing", missing)
    )


@pytest.mark.parametrize("language", languages())
def test_who_may_do_something_is_told_in_every_language(language: str) -> None:
    words = words_for(job(zone()), RULES, language=language)
    roles = in_order({Role.ELECTRICIAN, Role.CREW_LEAD})
    said = words.remedy(Message("signature-unsigned", {"roles": roles}))
    assert f"{words.person('crew_lead')}, {words.person('electrician')}" in said
