"""The climate of a zone over time: readings as intervals, outliers, what is assumed elsewhere."""
