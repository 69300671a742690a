"""When a message may go out, and whether the clock can be believed."""
