"""The command line: one thin module per command, heavy imports inside the callback."""
