"""What entries add up to; pure, no SQL, no clock, no files."""
