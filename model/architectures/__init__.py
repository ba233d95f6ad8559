"""How parts make up a machine: one file an architecture."""
