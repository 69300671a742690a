"""The terminal report of a plan and its parts."""
