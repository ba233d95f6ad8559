"""The commands: one file each, which parses, calls and prints; heavy imports happen when it is called."""
