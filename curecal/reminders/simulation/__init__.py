"""A whole job played forward on a clock of its own."""
