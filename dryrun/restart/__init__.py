"""A way back into a program that stopped in the middle."""
