"""Plain values that cross rooms; see the modules."""
