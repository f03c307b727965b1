"""Tests of the command line, run as a process."""
