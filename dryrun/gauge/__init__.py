"""Room: gauge."""
