"""The pages of who works on the site: what comes next, what must be done first, what to log."""
