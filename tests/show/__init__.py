"""Tests of answers as text."""
