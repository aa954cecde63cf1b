"""The machine condition warehouse: from bytes of a source to a judged condition.

bytes -> `inbox` -> `adapters` -> raw rows -> `normalise` -> readings -> `store`
-> `views` + `limits` -> `judging` -> conditions. `services` ties the steps;
`query` is the only door to the stored data for reading.
"""
