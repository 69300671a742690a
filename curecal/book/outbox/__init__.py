"""Messages to come and messages that left: one table of states, fenced moves."""
