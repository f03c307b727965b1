"""Tests of the demo workshop and its story."""
