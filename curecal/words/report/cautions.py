"""The cautions no output goes without."""

from __future__ import annotations

from curecal.planning.plan import Plan
from curecal.words.layout import Line, TextRun, bullet
from curecal.words.sentences import Words


def caution_texts(plan: Plan, words: Words) -> list[str]:
    """Return the cautions as sentences."""
    return [words.text(f"caution.{code}") for code in plan.cautions]


def cautions(plan: Plan, words: Words, width: int) -> list[Line]:
    """Return the cautions as the last chapter of a text output."""
    lines: list[Line] = [(), (TextRun(words.text("report.cautions"), "head"),)]
    for text in caution_texts(plan, words):
        lines += bullet(text, width)
    return lines
