"""What a whole batch does to the wheel, and what one grit leaves for the next."""
