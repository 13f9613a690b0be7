"""Bookings: whether a party fits, on which boat, and what to prepare."""
