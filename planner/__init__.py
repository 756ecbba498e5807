"""bevelwright: plans, writes and proves the hollow relief of edge tools."""

__version__ = "0.1.0"
