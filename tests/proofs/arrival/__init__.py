"""`make prove-arrival`: nothing lost or doubled, everything explained, wherever it is killed."""
