"""Room: gcode."""
