-- purpose: the identity columns behind each identity number
-- grain: one row an identity without its time
CREATE OR REPLACE TABLE identities AS
SELECT DISTINCT identity_no, device, channel, quantity, detector, band, feature FROM keys
