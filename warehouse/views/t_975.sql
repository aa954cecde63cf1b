-- purpose: the 97.5 % quantile of Student's t distribution, for two-sided 95 % intervals.
-- grain: scalar macro over degrees of freedom (whole, 1 or more).
-- columns: one number, rounded up in the third decimal; from 12 on that of 12, which is too wide.
-- depends:
CREATE OR REPLACE MACRO t_975(freedom) AS (
    [12.707, 4.303, 3.183, 2.777, 2.571, 2.447, 2.365, 2.307, 2.263, 2.229, 2.201, 2.179]
        [least(freedom, 12)::INTEGER]
);
