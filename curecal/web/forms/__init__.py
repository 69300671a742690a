"""Forms: one closed table of what a page can tell the log, and who is offered which."""
