"""`curecal serve`: pages, calendar feeds and reminders in one process."""
