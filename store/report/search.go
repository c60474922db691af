package report

import (
	"context"
	"slices"
	"strings"
	"unicode"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/match"
	"bellbuoy/store/internal/tables"
)

// SearchHit is a boat that was found, with its present owner; or a customer who
// has no boat now, with an empty boat.
type SearchHit struct {
	Boat  schedule.Boat
	Owner schedule.Customer // without an id if the shop has the boat
}

// SearchResult is what a search found.
type SearchResult struct {
	Hits   []SearchHit // those of one owner stand together
	Former bool        // they were found through somebody who had the boat before
	Near   []string    // words of the file that were taken for those typed, one letter apart; none if all were found as typed
}

// Search finds boats and customers by words in any order, each a piece of the
// boat's name, id, hull number, make, model or year, or of its owner's name, id,
// email, address or phone number. A phone number and a hull number may be written
// in any way, and letters with and without marks are the same. What nobody has now
// is looked for among the owners before, and then with one letter wrong. At most
// limit boats, and as many customers without one, are returned.
func Search(ctx context.Context, db *store.Reader, text string, limit int) (SearchResult, error) {
	s := search{db: db, text: match.Fold(strings.TrimSpace(text)), limit: kernel.LimitOr(limit)}
	s.terms = searchTerms(s.text)
	if len(s.terms) == 0 {
		return SearchResult{}, nil
	}
	r, err := s.find(ctx)
	if err == nil && len(r.Hits) == 0 {
		if err = s.guess(ctx); err == nil && s.near != nil {
			r, err = s.find(ctx)
			r.Near = s.near
		}
	}
	return r, kernel.Wrap(err, "search for %q", text)
}

// search is a search at work.
type search struct {
	db    *store.Reader
	text  string // folded
	terms []searchTerm
	near  []string
	limit int
}

// searchTerm is a word that was typed: any of the patterns is enough.
type searchTerm struct {
	word  string // "" for a phone number, which is never guessed at
	likes []any
}

// mostTerms is how many words of a search count.
const mostTerms = 8

// searchTerms takes a folded text apart. Neighboring pieces that together are a
// phone number make one term.
func searchTerms(text string) []searchTerm {
	var terms []searchTerm
	pieces := strings.Fields(text)
	for i := 0; i < len(pieces) && len(terms) < mostTerms; {
		j, digits := i, ""
		for j < len(pieces) && strings.Trim(pieces[j], "0123456789 +-()./") == "" {
			digits += match.Digits(pieces[j])
			j++
		}
		switch {
		case len(digits) >= 7:
			terms = append(terms, searchTerm{likes: phoneLikes(digits)})
			i = j
		case j > i && len(match.Digits(pieces[i])) >= 3: // a piece of one, or a year
			terms = append(terms, searchTerm{likes: []any{contains(match.Digits(pieces[i]))}})
			i++
		default:
			terms = append(terms, searchTerm{pieces[i], []any{contains(pieces[i])}})
			i++
		}
	}
	return terms
}

// phoneLikes are the patterns of a phone number: with and without the code of a
// country, and one that stands on file without an area.
func phoneLikes(digits string) []any {
	key := match.PhoneKey(digits)
	likes := []any{contains(key)}
	if len(key) == 10 {
		likes = append(likes, "%\n"+key[3:]+"\n%")
	}
	return likes
}

func contains(text string) string { return "%" + match.EscapeLike(text) + "%" }

// find looks with the terms as they are: among boats and present owners, else
// among those before.
func (s *search) find(ctx context.Context) (SearchResult, error) {
	for _, former := range []bool{false, true} {
		hits, err := s.boats(ctx, former)
		if err == nil && !former {
			var without []SearchHit
			if without, err = s.customersWithout(ctx); err == nil {
				hits = append(hits, without...)
			}
		}
		if err != nil || len(hits) > 0 {
			return SearchResult{Hits: hits, Former: former}, err
		}
	}
	return SearchResult{}, nil
}

// boats finds boats of which every term is said, or whose hull number is the
// whole text. Those still in our care come first, then by owner and name.
func (s *search) boats(ctx context.Context, former bool) ([]SearchHit, error) {
	present := " AND o.to_day IS NULL"
	if former {
		present = ""
	}
	var all []string
	var args []any
	for _, t := range s.terms {
		all = append(all, "SELECT id FROM (SELECT id FROM boats WHERE "+anyLike("search", t)+
			" UNION SELECT o.boat_id FROM customers k JOIN ownerships o ON o.customer_id = k.id"+present+" WHERE "+anyLike("k.search", t)+")")
		args = append(args, t.likes...)
		args = append(args, t.likes...)
	}
	found := strings.Join(all, " INTERSECT ")
	if plain := plainHull(s.text); plain != "" {
		found = "SELECT id FROM (" + found + ") UNION SELECT id FROM boats WHERE search LIKE ? ESCAPE '\\'"
		args = append(args, contains(plain))
	}
	return kernel.Collect(ctx, s.db.Read, func(c *kernel.Row) SearchHit {
		h := SearchHit{Boat: tables.ReadBoat(c)}
		c.Skip(tables.BoatWidth)
		h.Owner = tables.ReadCustomer(c)
		return h
	}, "SELECT "+kernel.Column("b", tables.BoatColumns)+", "+kernel.Column("c", tables.CustomerColumns)+" FROM ("+found+
		") f JOIN boats b ON b.id = f.id"+tables.WithOwner+" ORDER BY b.gone IS NOT NULL, c.name, c.id, b.name, b.id LIMIT ?",
		append(args, s.limit)...)
}

// customersWithout finds customers who have no boat now.
func (s *search) customersWithout(ctx context.Context) ([]SearchHit, error) {
	where, args := "", []any(nil)
	for _, t := range s.terms {
		where += anyLike("k.search", t) + " AND "
		args = append(args, t.likes...)
	}
	return kernel.Collect(ctx, s.db.Read, func(c *kernel.Row) SearchHit { return SearchHit{Owner: tables.ReadCustomer(c)} },
		"SELECT "+tables.CustomerColumns+" FROM customers k WHERE "+where+`NOT EXISTS (SELECT 1 FROM ownerships o WHERE o.customer_id = k.id AND o.to_day IS NULL)
			AND NOT EXISTS (SELECT 1 FROM merges m WHERE m.kind = 'customer' AND m.gone = k.id AND m.undone_at IS NULL)
			ORDER BY name, id LIMIT ?`, append(args, s.limit)...)
}

func anyLike(column string, t searchTerm) string {
	return "(" + strings.Join(slices.Repeat([]string{column + ` LIKE ? ESCAPE '\'`}, len(t.likes)), " OR ") + ")"
}

// plainHull is a text as a hull number stands on file, "" for what is too short
// for a piece of one or has no figure in it.
func plainHull(text string) string {
	plain := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return r
		}
		return -1
	}, strings.TrimPrefix(text, "us-"))
	if len(plain) < 6 || plain == match.Digits(plain) || plain == text || !strings.ContainsAny(plain, "0123456789") {
		return ""
	}
	return plain
}

// mostNear is how many words of the file stand in for one that was typed.
const mostNear = 40

// guess lets each term be a word of the file that is one letter apart as well,
// and notes those words; none if there are no such.
func (s *search) guess(ctx context.Context) error {
	seen := make(map[string]bool)
	texts, err := kernel.Collect(ctx, s.db.Read, kernel.FirstText, "SELECT search FROM boats UNION ALL SELECT search FROM customers")
	if err != nil {
		return err
	}
	for _, text := range texts {
		for _, word := range strings.FieldsFunc(text, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }) {
			for i := range s.terms {
				t := &s.terms[i]
				if len(t.word) < 3 || len(t.likes) > mostNear || word == t.word || seen[t.word+" "+word] || !match.OneLetterApart(t.word, word) {
					continue
				}
				seen[t.word+" "+word] = true
				t.likes = append(t.likes, contains(word))
				s.near = append(s.near, word)
			}
		}
	}
	return nil
}
