"""Bringing what is told of a job to its plan of now: one job, a round of them, in processes."""
