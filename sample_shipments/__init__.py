"""An invented maker's two years, as the files that a maker would have."""
