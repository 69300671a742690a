"""Calendar feeds: their bytes, their addresses, and what keeps them without reminders."""
