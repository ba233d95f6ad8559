"""The thermal model of a machine: physics, duty, figures, cost, tolerances."""
