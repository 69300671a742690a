"""A new job: usual build-ups, answers put together, and the file that people go on with."""
