"""The night run and the daemon."""
