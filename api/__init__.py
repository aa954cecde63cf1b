"""The REST API: thin routers over warehouse services."""
