"""The runs of the day, their steps, and the daemon."""
