"""Speed, as ratios to lower bounds that are measured in the same run."""
