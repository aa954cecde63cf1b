def serve() -> None:
    """Serve."""
