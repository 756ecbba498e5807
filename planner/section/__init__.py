"""Job and wheel to the finished section and its spread."""
