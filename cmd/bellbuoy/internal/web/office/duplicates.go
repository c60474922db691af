package office

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/texts"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
	"bellbuoy/store/duplicates"
)

// mostPairs is how many pairs, and how many merges, the page shows at once.
const mostPairs = 50

// twinsPage lists who and what was probably written down twice.
type duplicatesPage struct {
	Pairs  []candidatePair
	More   int         // pairs not shown
	Agree  int         // pairs, shown or not, that agree
	Steps  []mergeStep // what was merged in one step, the latest first
	Merged []duplicates.Merged
	Apart  []duplicates.NotDuplicate
	Fault  string
}

// twinStep are merges that were made together.
type mergeStep struct {
	duplicates.Merged
	Merges int
}

// twinPair are two that are probably one.
type candidatePair struct {
	Kind  string
	Why   string
	Agree bool
	Two   [2]candidate
	Rows  []duplicateRow // what a person compares, side by side
}

// twinRow is one fact of both.
type duplicateRow struct {
	Name string
	Two  [2]string
	Same bool
}

// twin is one of a pair, with what tells the two apart.
type candidate struct {
	ID, Name string
	URL      string // of a boat's page
	facts    []fact
	Other    string // the id of the other one, which would be gone
}

func (s pages) duplicates(r *http.Request) (site.Response, error) { return s.duplicatesAgain(r, nil) }

func (s pages) duplicatesAgain(r *http.Request, why site.Refusals) (site.Response, error) {
	p := duplicatesPage{Fault: why.Words()}
	all, err := duplicates.Find(r.Context(), s.App.DB)
	if err != nil {
		return site.Response{}, err
	}
	for _, t := range all {
		if t.Agree {
			p.Agree++
		}
	}
	for _, t := range all[:min(len(all), mostPairs)] {
		pair := candidatePair{Kind: t.Kind, Agree: t.Agree, Why: words.UpperFirst(strings.Join(t.Why, ", "))}
		for i, id := range []string{t.A, t.B} {
			if pair.Two[i], err = s.candidate(r.Context(), t.Kind, id); err != nil {
				return site.Response{}, err
			}
		}
		pair.Rows = compare(pair.Two[0].facts, pair.Two[1].facts)
		pair.Two[0].Other, pair.Two[1].Other = t.B, t.A
		p.Pairs = append(p.Pairs, pair)
	}
	p.More = len(all) - len(p.Pairs)
	if p.Merged, err = duplicates.Merges(r.Context(), s.App.DB); err != nil {
		return site.Response{}, err
	}
	for _, m := range p.Merged {
		if n := len(p.Steps); m.Step != 0 && (n == 0 || p.Steps[n-1].Step != m.Step) {
			p.Steps = append(p.Steps, mergeStep{m, 1})
		} else if m.Step != 0 {
			p.Steps[n-1].Merges++
		}
	}
	p.Merged = p.Merged[:min(len(p.Merged), mostPairs)]
	if p.Apart, err = duplicates.NotDuplicates(r.Context(), s.App.DB); err != nil {
		return site.Response{}, err
	}
	p.Apart = p.Apart[:min(len(p.Apart), mostPairs)]
	return site.Response{Page: "duplicates.html", Data: &p, Refused: why}, nil
}

// fact is one thing known of a customer or a boat, "" if it is not known.
type fact struct{ name, value string }

// compare puts the facts of two side by side, without those that neither has.
func compare(a, b []fact) (rows []duplicateRow) {
	for i := range a {
		if a[i].value != "" || b[i].value != "" {
			rows = append(rows, duplicateRow{a[i].name, [2]string{a[i].value, b[i].value}, a[i].value == b[i].value})
		}
	}
	return rows
}

// twin gathers what a person compares.
func (s pages) candidate(ctx context.Context, kind, id string) (candidate, error) {
	if kind == duplicates.KindBoat {
		b, err := s.App.DB.Boat(ctx, id)
		if err != nil {
			return candidate{}, err
		}
		who, err := s.App.OwnerOf(ctx, id)
		return candidate{ID: id, Name: b.Title(), URL: "/boats/" + url.PathEscape(id), facts: []fact{
			{"Boat", b.Title()}, {"Make and model", strings.TrimSpace(b.Make + " " + b.Model)}, {"Year", year(b.Year)}, {"HIN", b.HIN},
			{"Owner", who.Name}, {"Where it is kept", site.BerthWords(b.Berth) + ", " + b.Place}, {"Sold", s.soldOn(b.SoldOn)},
		}}, err
	}
	c, err := s.App.DB.Customer(ctx, id)
	if err != nil {
		return candidate{}, err
	}
	boats, err := s.App.DB.BoatsOf(ctx, id)
	var names []string
	for i := range boats {
		names = append(names, boats[i].Title())
	}
	return candidate{ID: id, Name: c.Name, facts: []fact{
		{"Name", c.Name}, {"Email", c.Email}, {"Phone", c.Phone}, {"Address", strings.Join(site.Filled(c.Address, c.City, c.Region, c.PostalCode), ", ")},
		{"Reminders by", c.ContactBy}, {"Language", texts.EnglishName(c.Language)}, {"Boats", strings.Join(names, "; ")},
	}}, err
}

func year(y int) string {
	if y == 0 {
		return ""
	}
	return strconv.Itoa(y)
}

// mergeAgreeing merges all that agree in one step, or takes such a step back.
func (s pages) mergeAgreeing(r *http.Request) (site.Response, error) {
	note := "There is no pair that agrees any more."
	var err error
	if step := r.PostFormValue("step"); step != "" {
		var n int
		var number int64
		if number, err = strconv.ParseInt(step, 10, 64); err != nil {
			return site.Response{}, site.NewProblem(http.StatusBadRequest, "The form is incomplete. Go back and press one of its buttons.")
		}
		n, _, err = s.App.UnmergeStep(r.Context(), s.Now(), site.Actor(r), number)
		note = words.Count(n, "merge") + " undone."
	} else {
		var done []duplicates.Merged
		if done, _, _, err = s.App.MergeAgreeing(r.Context(), s.Now(), site.Actor(r)); len(done) > 0 {
			note = words.Count(len(done), "pair") + " merged. You can undo all of this below."
		}
	}
	if why, ok := site.Refused(err); ok {
		return s.duplicatesAgain(r, why)
	}
	if errors.Is(err, store.ErrNotFound) {
		return s.duplicatesAgain(r, site.Refusals{site.At("", "That step is undone already.")})
	}
	if err != nil {
		return site.Response{}, err
	}
	return site.Response{To: "/duplicates", Note: note}, nil
}

// editTwins makes two one or tells them apart, or takes either back.
func (s pages) changeDuplicates(r *http.Request) (site.Response, error) {
	kind, gone, keep := r.PostFormValue("kind"), r.PostFormValue("gone"), r.PostFormValue("keep")
	if kind != duplicates.KindCustomer && kind != duplicates.KindBoat {
		return site.Response{}, site.NewProblem(http.StatusBadRequest, "The form is incomplete. Go back and press one of its buttons.")
	}
	var note string
	var err error
	switch r.PostFormValue("do") {
	case "merge":
		note = "Merged. You can undo this below."
		_, err = s.App.Merge(r.Context(), s.Now(), site.Actor(r), kind, keep, gone)
		if kind == duplicates.KindCustomer {
			note = "Merged. The page and calendar of the other one are empty from now on. You can undo this below."
		}
	case "apart", "together":
		together := r.PostFormValue("do") == "together"
		note = "Not duplicates: this pair is not shown again."
		err = s.App.TellApart(r.Context(), s.Now(), site.Actor(r), kind, keep, gone, together)
		if together {
			note = "This pair is shown again."
		}
	case "unmerge":
		note = "The merge is undone: they are separate again."
		_, err = s.App.Unmerge(r.Context(), s.Now(), site.Actor(r), kind, gone)
	default:
		return site.Response{}, site.NewProblem(http.StatusBadRequest, "The form is incomplete. Go back and press one of its buttons.")
	}
	if why, ok := site.Refused(err); ok {
		return s.duplicatesAgain(r, why)
	}
	if errors.Is(err, store.ErrNotFound) {
		return s.duplicatesAgain(r, site.Refusals{site.At("", "One of the two no longer exists; somebody else has merged it.")})
	}
	if err != nil {
		return site.Response{}, err
	}
	return site.Response{To: "/duplicates", Note: note}, nil
}

func (s pages) soldOn(d civil.Day) string {
	if d == 0 {
		return ""
	}
	return s.Format().ShortDate(d)
}
