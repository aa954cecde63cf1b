"""Routers, one file a kind of thing."""
