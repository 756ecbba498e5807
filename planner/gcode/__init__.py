"""Passes to program text."""
