"""Two plans, or a plan and what might be otherwise, as text."""
