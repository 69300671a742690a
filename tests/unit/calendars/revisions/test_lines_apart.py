"""A calendar's lines taken apart, and compared as what they say."""

from __future__ import annotations

import pytest

from curecal.calendars.revision import content, name_of, value_of


@pytest.mark.parametrize(
    ("line", "name", "value"),
    [
        ("SUMMARY:a:b", "SUMMARY", "a:b"),
        ('X-A;CN="a:b;c":v', "X-A", "v"),
        ("X-A;P=1;Q=2:v", "X-A", "v"),
        ("summary:v", "SUMMARY", "v"),
        ("no colon", "", ""),
        # With a sign in between it is no property that anybody reads.
        ("SUMMARY\ufffd:v", "", "v"),
        (":v", "", "v"),
        ("", "", ""),
    ],
)
def test_lines_are_taken_apart_behind_quoted_parameters(line: str, name: str, value: str) -> None:
    assert name_of(line) == name
    assert value_of(line) == value


def test_what_is_no_parameter_is_another_content() -> None:
    ends = ("BEGIN:VEVENT", "END:VEVENT")
    whole, broken = "DTEND;VALUE=DATE:20261206", "DTEND;VADTEND;VALUE=DATE:20261206"
    assert content((ends[0], whole, ends[1])) != content((ends[0], broken, ends[1]))


def test_two_values_never_read_as_one_content() -> None:
    ends = ("BEGIN:VEVENT", "END:VEVENT")
    lines = ("SUMMARY:a\\nb", "SUMMARY:a\\\\nb", "SUMMARY:a;b", "SUMMARY;LANGUAGE=en:a\\nb")
    found = {content((ends[0], line, ends[1])) for line in lines}
    assert len(found) == len(lines)
