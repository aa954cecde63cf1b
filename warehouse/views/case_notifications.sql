-- purpose: what the maintenance system is told, each once, in the order of its number (rule W1).
-- grain: one row a notification.
-- columns: notice (counts up by one; a cursor that never expires), and those of case_events.
-- depends:
CREATE OR REPLACE VIEW case_notifications AS
SELECT notice, * EXCLUDE (notice, through_change, through_action)
FROM case_events
WHERE notice IS NOT NULL;
