"""The shop's papers: one neutral model of a paper, what goes on it, and what prints it."""
