"""Outfits with keys, as the resources' tests have them."""

from tests.resources.conftest import boat, caller, mine, particulars, rider, store

__all__ = ["boat", "caller", "mine", "particulars", "rider", "store"]
