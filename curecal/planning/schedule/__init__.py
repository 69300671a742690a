"""When each layer is laid, what it waits for, and the date the floor may be energized."""
