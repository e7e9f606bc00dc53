"""Comeback and liability evidence tracker."""

__version__ = "0.1.0"
