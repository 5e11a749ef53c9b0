"""Room: job."""
