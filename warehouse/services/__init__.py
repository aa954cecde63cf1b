"""Services: the steps of the house tied together. What `cli` and `api` call."""
