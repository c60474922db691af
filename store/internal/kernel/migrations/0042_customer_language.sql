-- In which language a customer is written to; '' is the shop's own. The languages
-- are those of the program's texts, so that a further one needs no migration.

-- +goose Up
ALTER TABLE customers ADD COLUMN language TEXT NOT NULL DEFAULT '';
