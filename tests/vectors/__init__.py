"""Examples of the format of packs, good and bad, for whoever writes another reader."""
