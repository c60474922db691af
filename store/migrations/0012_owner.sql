-- The owner's figures add up years of paid work by day, boat and service: read
-- from the index alone, without the notes that lie between.

-- +goose Up
DROP INDEX records_day;
CREATE INDEX records_day ON records (day, boat_id, service, done_by, amount);
