package report

import (
	"context"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/match"
	"bellbuoy/store/internal/tables"
)

// Search finds boats by a piece of their name, id, hull number, make or model,
// or of their present owner's name, id or mail address, or by four or more
// digits of the owner's telephone number. Messages with and without marks are
// the same. At most limit boats are returned, in order of id.
func Search(ctx context.Context, db *store.Reader, text string, limit int) ([]SearchHit, error) {
	text = match.Fold(strings.TrimSpace(text))
	if text == "" {
		return nil, nil
	}
	like := "%" + match.EscapeLike(text) + "%"
	var phone any // NULL is like nothing
	if d := match.Digits(text); len(d) >= 4 && strings.Trim(text, "0123456789 +-()./") == "" {
		phone = "%" + d + "%"
	}
	hits, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) SearchHit {
		h := SearchHit{Boat: tables.ReadBoat(c)}
		c.Skip(tables.BoatWidth)
		h.Owner = tables.ReadCustomer(c)
		return h
	}, "SELECT "+kernel.Column("b", tables.BoatColumns)+", "+kernel.Column("c", tables.CustomerColumns)+` FROM (
			SELECT id AS boat_id FROM boats WHERE search LIKE ?1 ESCAPE '\'
			UNION SELECT o.boat_id FROM customers k JOIN ownerships o ON o.customer_id = k.id AND o.to_day IS NULL
				WHERE k.search LIKE ?1 ESCAPE '\' OR k.search LIKE ?2 ESCAPE '\'
			ORDER BY 1 LIMIT ?3) f JOIN boats b ON b.id = f.boat_id`+tables.WithOwner+" ORDER BY b.id",
		like, phone, kernel.LimitOr(limit))
	return hits, kernel.Wrap(err, "search for %q", text)
}

// SearchHit is a boat that was found, with its present owner.
type SearchHit struct {
	Boat  schedule.Boat
	Owner schedule.Customer // without an id if the shop has the boat
}
