"""What must be recorded before the next step, and what the records prove."""
