"""The best loading: what is wanted, what it costs, and how it is found."""
