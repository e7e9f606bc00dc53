"""Checks a disclosure bundle with the standard library alone. Imports nothing of this program."""
