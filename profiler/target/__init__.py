"""Printed targets: where each measuring point and each identity lies on the paper, in mm."""
