"""Makes and tells the demo."""
