"""Benchmarks: ratios measured in one run, interleaved; never a gate on seconds."""
