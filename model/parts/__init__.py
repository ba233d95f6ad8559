"""Parts of a machine: vessels, coil, group, elements, wand."""
