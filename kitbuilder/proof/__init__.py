"""Checks a catalogue over every vehicle that can exist."""
