"""The process that plans again, claims, sends and marks."""
