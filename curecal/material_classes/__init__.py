"""Shipped material classes and rules: data, read and checked once."""
