-- purpose: a ledger of version 2 as one of version 3: nothing in it changes
-- grain: none
UPDATE inbox SET format_version = 3;
