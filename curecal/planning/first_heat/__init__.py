"""Set-points for the first heat, a screed heated bare, and a floor under repair."""
