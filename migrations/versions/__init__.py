"""The steps, each with its way back."""
