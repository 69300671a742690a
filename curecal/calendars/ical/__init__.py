"""Events as iCalendar bytes: written, validated, read back by a library."""
