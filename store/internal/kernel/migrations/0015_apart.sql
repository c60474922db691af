-- Customers or boats that look written down twice, of which somebody knows that
-- they are two: they are not asked about again.

-- +goose Up
CREATE TABLE apart (
	kind TEXT NOT NULL CHECK (kind IN ('customer', 'boat')),
	a TEXT NOT NULL,
	b TEXT NOT NULL,
	at INTEGER NOT NULL,
	actor TEXT NOT NULL,
	PRIMARY KEY (kind, a, b),
	CHECK (a < b)
) STRICT, WITHOUT ROWID;
