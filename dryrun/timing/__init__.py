"""Room: timing."""
