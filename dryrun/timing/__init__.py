"""Room: timing. What the clock at the machine will say.

`planner.plan_time` predicts the time of a program, `calibration.calibrate` finds a machine's
limits from measured runs. Lengths in mm, times in s, speeds in mm/s (feeds of the program in
mm/min).
"""
