"""A thermal network of nodes and links, and its exact elimination."""
