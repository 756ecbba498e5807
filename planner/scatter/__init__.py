"""Tolerance by numbers: many blades drawn with the stated errors, and what their lands come to."""
