"""Bookings on the floor: what a kit needs and when, edits by hand, picking, the kit check, the start gate."""
