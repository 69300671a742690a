"""`curecal book`."""
