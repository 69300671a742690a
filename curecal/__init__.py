"""curecal: the earliest safe date to switch on a heated floor under tile."""
