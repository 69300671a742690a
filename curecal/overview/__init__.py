"""Many jobs at once: each one's answer in a line, what its days hold, and how long that holds."""
