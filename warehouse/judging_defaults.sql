-- purpose: the defaults of judging as a constant of the session, by key: what the macro `setting` reads
-- grain: one variable
SET VARIABLE judging_defaults = (SELECT map(list(key), list(value)) FROM judging_defaults)
