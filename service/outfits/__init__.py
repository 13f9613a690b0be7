"""Outfits: who they are, the keys they hold, and what they keep about people."""
