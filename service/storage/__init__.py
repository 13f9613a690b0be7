"""What is kept: outfits and their boats, riders, set-ups, runs and bookings.

SQLite by default, PostgreSQL for more than one machine; nothing above this package knows which.
"""

from service.storage.engine import STORE_FAULTS, Store, StoreError, is_locked

__all__ = ["STORE_FAULTS", "Store", "StoreError", "is_locked"]
