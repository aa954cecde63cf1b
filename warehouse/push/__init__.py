"""Push: who is told of what, which targets may be told, signatures, and the outbox."""
