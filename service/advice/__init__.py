"""Use cases: what the service does, knowing nothing of HTTP."""
