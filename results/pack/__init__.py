"""What the workshop needs to build and test a candidate: drawing, sizes, bill, settings, predictions, test plan."""
