-- The change history by person.

-- +goose Up
CREATE INDEX audit_actor ON audit (actor, id);
