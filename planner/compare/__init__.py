"""What-if: one job with some of its values varied, or two jobs side by side."""
