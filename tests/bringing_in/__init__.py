"""Tests of bringing in: sheets of others, past jobs."""
