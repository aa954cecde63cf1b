"""Proofs: long runs that try to break a promise and count how often they could."""
