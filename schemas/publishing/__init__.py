"""Publishing the open schema: JSON Schema and an Open Data Contract, made from `schemas`."""
