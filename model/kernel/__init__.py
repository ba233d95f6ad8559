"""The compiled march through a service protocol."""
