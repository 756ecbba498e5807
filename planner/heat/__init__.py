"""How hot the blade gets, and what it waits for."""
