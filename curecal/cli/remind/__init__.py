"""`curecal remind`."""
