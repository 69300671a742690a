"""Changes of a job file's text that keep its comments and its order."""
