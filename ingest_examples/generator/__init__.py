"""Makes the invented plant group's data, from the trade's rules, at any size.

Nothing it writes was measured. Same arguments give the same bytes.
"""
