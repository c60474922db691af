-- A search looks through addresses and model years too. The phone number stands
-- between two others, so that a whole one can be looked for.

-- +goose Up
UPDATE customers SET search = search || char(10) || fold(address) || char(10) || fold(city) || char(10) || fold(region) || char(10) || fold(postal_code);
UPDATE boats SET search = search || char(10) || iif(year = 0, '', year);
