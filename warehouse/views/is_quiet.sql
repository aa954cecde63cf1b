-- purpose: may this velocity be a machine at rest or a loose sensor (rule J9)?
-- grain: scalar macro over a running state, a velocity and the usual value of its series.
-- columns: true or false; null where no usual value is known.
-- depends: setting
CREATE OR REPLACE MACRO is_quiet(state, velocity, usual_value) AS (
    -- A machine proven running by its speed is never doubted for being smooth.
    state = 'unknown' AND velocity < setting('quiet_velocity')
        AND velocity < setting('quiet_share') * usual_value
);
