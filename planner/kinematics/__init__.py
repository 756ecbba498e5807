"""Blade positions to axis positions."""
