"""What items must have to satisfy a requirement."""
