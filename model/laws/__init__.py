"""Published correlations, one small function each."""
