"""On the water: what is set and what is seen in, the one next change out."""
