"""Builds kits: lines, reasons, questions, chances."""
