"""The build-up, the waits that count in it, and the clocks they run on."""
