"""Room: removal."""
