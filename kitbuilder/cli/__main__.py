"""Runs the command line with `python -m kitbuilder.cli`."""

from kitbuilder.cli.app import main

main()
