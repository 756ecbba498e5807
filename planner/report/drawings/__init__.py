"""What ``draw`` leaves: section and wheels as DXF and SVG, the wheel's path as CSV."""
