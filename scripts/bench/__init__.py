"""Measuring the product beside the floor it stands on: `make bench`."""
