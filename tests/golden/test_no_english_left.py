"""Somebody who reads another language meets no English in what they get."""

from __future__ import annotations

import json
import re
from datetime import datetime
from functools import cache
from pathlib import Path

import pytest
import tomli
from golden import EXAMPLES, expected_path
from paper_samples import paper_context, texts

from curecal.calendars import feeds
from curecal.job_files import load_rules
from curecal.papers.commissioning_record import commissioning_record
from curecal.papers.hold_card import hold_card
from curecal.papers.owner_sheet import owner_sheet
from curecal.pictures.section import make_section
from curecal.pictures.section_svg import section_svg
from curecal.pictures.timeline import make_timeline
from curecal.pictures.timeline_svg import timeline_svg
from curecal.shipped import DATA
from curecal.words.catalogue import catalogue, languages

OTHERS = sorted(set(languages()) - {"en"})
FOLDERS = sorted(path.parent for path in EXAMPLES.glob("*/job.toml"))
_WORD = re.compile(r"[^\W\d_]{4,}")
# What an SVG picture says: the text between its tags.
_SHOWN = re.compile(r">([^<]+)<")


def words_of(text: str) -> set[str]:
    """The words of a text, small."""
    return {word.lower() for word in _WORD.findall(text)}


@cache
def english_alone(language: str) -> frozenset[str]:
    """Words of our English that the other language does not have as well."""
    files = [DATA / "classes.toml", DATA / "rules.toml", *(DATA / "text").rglob("en-*.toml")]
    english = " ".join(path.read_text(encoding="utf-8") for path in files)
    own = " ".join(
        form for text in catalogue(language).texts.values() for form in text.every_form()
    )
    return frozenset(words_of(english) - words_of(own))


def job_in(folder: Path, language: str) -> str:
    """A job file whose people read a language."""
    text = (folder / "job.toml").read_text(encoding="utf-8")
    text = re.sub(r"^language = .*\n", "", text, flags=re.MULTILINE)
    return text.replace("[job]\n", f'[job]\nlanguage = "{language}"\n', 1)


def typed(text: str) -> set[str]:
    """The words that somebody typed into a job, but for our own choices and keys."""

    def values(found: object) -> list[str]:
        if isinstance(found, dict):
            return [word for value in found.values() for word in values(value)]
        if isinstance(found, list):
            return [word for value in found for word in values(value)]
        return [found] if isinstance(found, str) else []

    job = tomli.loads(text)
    chosen = {"kind", "result", "cause", "leads", "mode", "schedule", "trip_test", "below", "state"}
    own = [
        word
        for table in (job, *job.get("log", ()), *job["zone"])
        for key, value in table.items()
        if key not in chosen
        for word in values(value)
    ]
    return words_of(" ".join(own))


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: folder.name)
@pytest.mark.parametrize("language", OTHERS)
def test_calendars_papers_and_pictures_are_in_the_readers_language(
    language: str, folder: Path
) -> None:
    text = job_in(folder, language)
    asked = json.loads(expected_path(folder).read_text(encoding="utf-8"))["asked_at"]
    ctx = paper_context(text, datetime.fromisoformat(asked), language)
    said: dict[str, str] = {}
    for feed in feeds(ctx.plan, rules=load_rules(), log=ctx.log):
        entries = [f"{event.summary} {event.description}" for event in feed.events]
        said[feed.audience.value] = " ".join([feed.name, *entries])
    for make in (hold_card, owner_sheet, commissioning_record):
        paper = make(ctx)
        said[make.__name__] = "" if paper is None else " ".join(texts(paper))
    for zone in ctx.plan.zones:
        timeline = make_timeline(ctx.plan, zone, ctx.log, ctx.words)
        drawn = timeline_svg(timeline, width=720)
        drawn += section_svg(make_section(ctx.plan, zone, ctx.words), width=720)
        said[f"pictures of {zone.zone.id}"] = " ".join(_SHOWN.findall(drawn))
    wrong = {
        what: sorted((words_of(text_said) & english_alone(language)) - typed(text))
        for what, text_said in said.items()
    }
    assert {what: words for what, words in wrong.items() if words} == {}
