"""What everybody is to be told: pure functions of a plan, its people and what they heard."""
