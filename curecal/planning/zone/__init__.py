"""One zone put together: its state, its plan, its visits."""
