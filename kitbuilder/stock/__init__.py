"""What stock sources answer, and what a kit is short of."""
