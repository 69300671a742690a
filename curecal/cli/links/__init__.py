"""`curecal links`: the links by which people get to their pages and calendars."""
