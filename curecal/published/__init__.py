"""Published check values, and the equations that exist only to be checked."""
