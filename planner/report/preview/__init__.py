"""The preview: one page that shows the grind pass by pass, from what the proof read back."""
