"""One invented booster pump from its sensor's first reading to the repair that helped.

The files that docs/a-month-in-the-plant.md takes in, step by step, are made on demand by
`python -m ingest_examples.month --out DIR`. Nothing here was measured; no site, machine, device or
person exists.
"""
