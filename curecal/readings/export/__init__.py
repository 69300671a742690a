"""A logger's export as channels of readings, and what was understood of it."""
