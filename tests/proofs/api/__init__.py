"""Attacks on the server: `make prove-api`."""
