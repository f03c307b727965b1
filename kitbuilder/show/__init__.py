"""Draws finished values as text; computes nothing."""
