"""The passes of a set-up."""
