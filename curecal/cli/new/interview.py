"""Asking a person for one thing at a time: what is typed is judged at once, and ? explains."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import click

from curecal.cli.shared.common import instant_asked, print_lines, width_of
from curecal.errors import CurecalError, ValueRefused
from curecal.records import PlainTable, PlainView

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from datetime import date, datetime, tzinfo
    from pathlib import Path

    from curecal.toml_files.schema import Key
    from curecal.words.sentences import Words

_HELP = "?"
_NO_PARAMS: PlainView = {}


@dataclass
class Interview:
    """One person's answers so far, as tables of a job file, and what the questions need.

    `shared` are the tables of the company's files; `now` is when it began.
    """

    words: Words
    folder: Path
    company: Path | None
    now: datetime
    draft: PlainTable = field(default_factory=dict)
    shared: PlainTable = field(default_factory=dict)

    def table(self, name: str) -> PlainTable:
        """Return one of the draft's tables, made where it is missing."""
        found: PlainTable = self.draft.setdefault(name, {})
        return found

    @property
    def tz(self) -> tzinfo:
        """The clock of the site."""
        from zoneinfo import ZoneInfo

        return ZoneInfo(self.draft["job"]["timezone"])

    def say(self, text: str, *, indent: int = 0) -> None:
        """Print a text, wrapped."""
        from curecal.words.layout import paragraph

        print_lines(paragraph(text, width_of(None), indent=indent))

    def tell(self, key: str, params: Mapping[str, object] = _NO_PARAMS, *, indent: int = 0) -> None:
        """Print one of the texts of `new`."""
        self.say(self.words.text(f"new.{key}", params), indent=indent)

    def ask(
        self,
        name: str,
        judge: Callable[[str], Any] = str,
        *,
        default: str = "",
        is_required: bool = False,
        params: Mapping[str, object] = _NO_PARAMS,
    ) -> Any:
        """Return an answer, asked until it can be used; None for an empty one.

        Args:
            name: The question: its words are `new.ask-NAME`, what ? shows is `new.help-NAME`.
            judge: Makes what is stored of what was typed, or raises `CurecalError`.
            default: What Enter stands for.
            is_required: Whether an empty answer is asked again.
            params: What the words need.
        """
        question = self.words.text(f"new.ask-{name}", params)
        while True:
            typed = str(
                click.prompt(question, default=default, show_default=bool(default), value_proc=str)
            )
            # Pasted texts have spaces that do not break; they are meant as spaces.
            typed = " ".join(typed.split())
            if typed == _HELP:
                self.tell(f"help-{name}", params, indent=2)
            elif not typed and not is_required:
                return None
            elif not typed:
                self.tell("needed", indent=2)
            else:
                try:
                    refuse_unseen(typed)
                    return judge(typed)
                except CurecalError as error:
                    self.say(self.words.error(error), indent=2)

    def choose(
        self,
        name: str,
        choices: Sequence[str],
        *,
        default: str = "",
        shown: Mapping[str, str] | None = None,
    ) -> str:
        """Return one of a few words, typed whole, by its beginning or by its number.

        Args:
            name: The question, as of `ask`.
            choices: The words.
            default: What Enter stands for.
            shown: What each means, where that is shown line by line.
        """
        self.say(self.words.text(f"new.pick-{name}"))
        if shown:
            from curecal.words.layout import hanging

            widest = max(len(choice) for choice in choices) + 8
            for number, choice in enumerate(choices, 1):
                label = f"{number}  {choice}"
                print_lines(hanging(label, shown[choice], width_of(None), indent=widest))
        else:
            listed = "   ".join(f"{number} {choice}" for number, choice in enumerate(choices, 1))
            self.say(listed, indent=2)
        return str(
            self.ask(name, lambda typed: chosen(typed, choices), default=default, is_required=True)
        )

    def confirm(
        self, name: str, *, is_yes: bool, params: Mapping[str, object] = _NO_PARAMS
    ) -> bool:
        """Return a yes or no; Enter is what stands in large."""
        default = self.words.text("new.yes" if is_yes else "new.no")
        answer = self.ask(name, self._yes_or_no, default=default, params=params)
        return bool(answer)

    def _yes_or_no(self, typed: str) -> bool:
        yes, no = (self.words.text(f"new.{key}").casefold() for key in ("yes", "no"))
        text = typed.casefold()
        if yes.startswith(text) or no.startswith(text):
            return yes.startswith(text)
        raise ValueRefused("choice-unknown", text=typed[:60], known=f"{yes}, {no}", nearest="")

    def past(self, typed: str) -> date | datetime:
        """Return when something was done, in the site's time; a day alone stays a day."""
        at = instant_asked(typed, self.tz)
        if at > self.now and self.day_or_time(at) != self.now.astimezone(self.tz).date():
            raise ValueRefused("answer-ahead", text=typed[:60])
        return self._understood(at)

    def is_odd(self, done: date | datetime) -> bool:
        """Return whether a finish looks like a slip: by night, or long ago."""
        from datetime import datetime

        from curecal.planning.site_log.doubtful_finish import TOLD_LATE, is_by_night

        day = done.date() if isinstance(done, datetime) else done
        long_ago = self.now.astimezone(self.tz).date() - day > TOLD_LATE
        return long_ago or (isinstance(done, datetime) and is_by_night(done.time()))

    def ahead(self, typed: str) -> datetime:
        """Return when something begins; a day alone begins with the working hours."""
        from datetime import datetime, time

        at = instant_asked(typed, self.tz)
        found = self.day_or_time(at)
        if not isinstance(found, datetime):
            found = datetime.combine(found, time(8))
        at = found.replace(tzinfo=self.tz)
        if at < self.now:
            raise ValueRefused("answer-behind", text=typed[:60])
        self._understood(at)
        return found

    def day(self, typed: str) -> date:
        """Return a day that lies behind."""
        from datetime import datetime

        found = self.past(typed)
        return found.date() if isinstance(found, datetime) else found

    def day_or_time(self, at: datetime) -> date | datetime:
        """Return an instant as the file holds it: local; the end of a day is that day."""
        from datetime import time, timedelta

        local = at.astimezone(self.tz).replace(tzinfo=None, microsecond=0)
        return (local - timedelta(days=1)).date() if local.time() == time() else local

    def _understood(self, at: datetime) -> date | datetime:
        """Say what a date was understood as, so that a slip is seen; return it as a file has it."""
        from datetime import datetime

        found = self.day_or_time(at)
        has_time = isinstance(found, datetime)
        form = "%a %d %b %Y, %H:%M" if has_time else "%a %d %b %Y"
        self.say(found.strftime(form), indent=2)
        return found


def refuse_unseen(typed: str) -> None:
    """Raise for what no file should hold: a sign that nobody sees, or a text without an end.

    Raises:
        ValueRefused: There is such a sign, or the text is too long.
    """
    from curecal.toml_files.schema import MOST_NAME

    for sign in typed:
        if not sign.isprintable():
            raise ValueRefused("entry-sign-unseen", sign=f"U+{ord(sign):04X}")
    if len(typed) > MOST_NAME:
        params = {"length_count": len(typed), "most_count": MOST_NAME}
        raise ValueRefused("text-too-long", **params)


def key_of(table: str, name: str) -> Key:
    """Return a key of the schema."""
    from curecal.toml_files.schema import TABLES

    return next(key for key in TABLES[table] if key.name == name)


def judge_of(table: str, name: str) -> Callable[[str], str]:
    """Return what judges a text as the reader of a job file does, and gives it back as typed."""
    from curecal.toml_files.time_zones import REGIONAL
    from curecal.toml_files.values import READERS

    key = key_of(table, name)

    def judged(text: str) -> str:
        (REGIONAL.get(key.reads) or READERS[key.reads])(text, key)
        return text

    return judged


def chosen(typed: str, choices: Sequence[str]) -> str:
    """Return the choice that was typed: its number, its word, or how only it begins.

    Raises:
        ValueRefused: It is none of them, or several.
    """
    from curecal.toml_files.shown import nearest, shorten

    if typed.isdecimal() and 1 <= int(typed) <= len(choices):
        return choices[int(typed) - 1]
    text = typed.casefold()
    exact = [choice for choice in choices if choice.casefold() == text]
    begun = exact or [choice for choice in choices if choice.casefold().startswith(text)]
    if len(begun) == 1:
        return begun[0]
    raise ValueRefused(
        "choice-unknown",
        text=shorten(typed),
        known=", ".join(choices),
        nearest=nearest(typed, list(choices)),
    )
