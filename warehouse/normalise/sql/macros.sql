-- purpose: small rules used by several statements
-- grain: scalar macros
-- printed_digits: digits behind the decimal point of a number as printed (fewer than 0 with an exponent)
CREATE OR REPLACE MACRO printed_digits(plain) AS
    CASE
        WHEN contains(lower(plain), 'e')
        THEN length(regexp_extract(plain, '\.(\d*)', 1))
            - coalesce(try_cast(regexp_extract(lower(plain), 'e([+-]?\d+)$', 1) AS INTEGER), 0)
        WHEN contains(plain, '.') THEN strlen(plain) - strpos(plain, '.')
        ELSE 0
    END::INTEGER;

-- same_value: equal within half a unit of the last printed digit of the coarser one
CREATE OR REPLACE MACRO same_value(one, one_unit, other, other_unit) AS
    CASE
        WHEN one IS NULL OR other IS NULL THEN one IS NULL AND other IS NULL
        ELSE abs(one - other) <= 0.5 * greatest(one_unit, other_unit) * (1 + 1e-9)
    END
;

-- quoted: a text of the source inside a message, cut where it is long
CREATE OR REPLACE MACRO quoted(text) AS '''' || left(coalesce(text, ''), 60) || '''';

-- unknown_stop: why a stop is refused: it is not registered, or not of the route that the sheet is of
CREATE OR REPLACE MACRO unknown_stop(route, stop, sheet_route) AS
    'route ' || quoted(route) || CASE WHEN route <> sheet_route
        THEN ' is not that of the sheet, ' || quoted(sheet_route)
        ELSE ' has no registered stop ' || quoted(stop) END
