"""Boats: what a boat is, and the invented demo fleet."""
