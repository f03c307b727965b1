"""Bring in what others wrote: sheets of any shape into the catalogue's files, and a first job type from past jobs."""
