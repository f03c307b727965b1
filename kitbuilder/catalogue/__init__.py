"""Read a catalogue folder, and make editions of it."""
