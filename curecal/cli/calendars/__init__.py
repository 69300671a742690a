"""`curecal calendars`."""
