"""Program text to a verdict."""
