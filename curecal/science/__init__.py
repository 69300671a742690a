"""Published equations on floats in SI units, one source for each; knows nothing of the trade."""
