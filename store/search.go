package store

import (
	"context"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
)

// fold makes texts comparable for a search: small letters without marks.
func fold(s string) string {
	var b strings.Builder
	for _, r := range norm.NFKD.String(strings.ToLower(s)) {
		switch {
		case unicode.Is(unicode.Mn, r):
		case r == 'ø':
			b.WriteByte('o')
		case r == 'ł':
			b.WriteByte('l')
		case r == 'đ' || r == 'ð':
			b.WriteByte('d')
		case r == 'ß':
			b.WriteString("ss")
		case r == 'æ':
			b.WriteString("ae")
		case r == 'ı':
			b.WriteByte('i')
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// onlyDigits keeps the digits of a telephone number.
func onlyDigits(s string) string {
	return strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, s)
}

func customerSearch(c schedule.Customer) string {
	return kernel.JoinLines([]string{fold(c.Name), fold(c.ID), fold(c.Email), onlyDigits(c.Phone)})
}

func boatSearch(b schedule.Boat) string {
	return kernel.JoinLines([]string{fold(b.Name), fold(b.ID), fold(b.HIN), fold(b.Make + " " + b.Model)})
}

// Search finds boats by a piece of their name, id, hull number, make or model,
// or of their present owner's name, id or mail address, or by four or more
// digits of the owner's telephone number. Letters with and without marks are
// the same. At most limit boats are returned, in order of id.
func (db *DB) Search(ctx context.Context, text string, limit int) ([]SearchHit, error) {
	text = fold(strings.TrimSpace(text))
	if text == "" {
		return nil, nil
	}
	like := "%" + escapeLike(text) + "%"
	var phone any // NULL is like nothing
	if d := onlyDigits(text); len(d) >= 4 && strings.Trim(text, "0123456789 +-()./") == "" {
		phone = "%" + d + "%"
	}
	hits, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) SearchHit {
		h := SearchHit{Boat: readBoat(c)}
		c.Skip(boatWidth)
		h.Owner = readCustomer(c)
		return h
	}, "SELECT "+kernel.Column("b", boatColumns)+", "+kernel.Column("c", customerColumns)+` FROM (
			SELECT id AS boat_id FROM boats WHERE search LIKE ?1 ESCAPE '\'
			UNION SELECT o.boat_id FROM customers k JOIN ownerships o ON o.customer_id = k.id AND o.to_day IS NULL
				WHERE k.search LIKE ?1 ESCAPE '\' OR k.search LIKE ?2 ESCAPE '\'
			ORDER BY 1 LIMIT ?3) f JOIN boats b ON b.id = f.boat_id`+withOwner+" ORDER BY b.id",
		like, phone, kernel.LimitOr(limit))
	return hits, kernel.Wrap(err, "search for %q", text)
}

// SearchHit is a boat that was found, with its present owner.
type SearchHit struct {
	Boat  schedule.Boat
	Owner schedule.Customer // without an id if the shop has the boat
}

// escapeLike makes a text stand for itself in a LIKE pattern.
func escapeLike(s string) string {
	return strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`).Replace(s)
}
