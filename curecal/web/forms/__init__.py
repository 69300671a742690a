"""Forms: one closed table of what a page can tell the log, read, judged and written alike."""
