"""An outing with several riders: who rides when, each set-up, and what changes in between."""
