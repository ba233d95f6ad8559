"""Properties of water, air and solids."""
