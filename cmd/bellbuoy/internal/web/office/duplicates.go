package office

import (
	"context"
	"errors"
	"net/http"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
	"bellbuoy/store/duplicates"
)

// twinsMost is how many pairs, and how many merges, the page shows at once.
const twinsMost = 50

// twinsPage lists who and what was probably written down twice.
type twinsPage struct {
	Pairs  []twinPair
	More   int // pairs not shown
	Merged []duplicates.Merged
	Apart  []duplicates.NotDuplicate
	Fault  string
}

// twinPair are two that are probably one.
type twinPair struct {
	Kind string
	Why  string
	Two  [2]twin
}

// twin is one of a pair, with what tells the two apart.
type twin struct {
	ID, Name string
	URL      string // of a boat's page
	Facts    []string
	Other    string // the id of the other one, which would be gone
}

func (s pages) twins(r *http.Request) (site.Response, error) { return s.twinsAgain(r, nil) }

func (s pages) twinsAgain(r *http.Request, why site.Refusals) (site.Response, error) {
	p := twinsPage{Fault: why.Words()}
	all, err := duplicates.Find(r.Context(), s.App.DB)
	if err != nil {
		return site.Response{}, err
	}
	for _, t := range all[:min(len(all), twinsMost)] {
		pair := twinPair{Kind: t.Kind, Why: words.UpperFirst(strings.Join(t.Why, ", "))}
		for i, id := range []string{t.A, t.B} {
			if pair.Two[i], err = s.twin(r.Context(), t.Kind, id); err != nil {
				return site.Response{}, err
			}
		}
		pair.Two[0].Other, pair.Two[1].Other = t.B, t.A
		p.Pairs = append(p.Pairs, pair)
	}
	p.More = len(all) - len(p.Pairs)
	if p.Merged, err = duplicates.Merges(r.Context(), s.App.DB); err != nil {
		return site.Response{}, err
	}
	p.Merged = p.Merged[:min(len(p.Merged), twinsMost)]
	if p.Apart, err = duplicates.NotDuplicates(r.Context(), s.App.DB); err != nil {
		return site.Response{}, err
	}
	p.Apart = p.Apart[:min(len(p.Apart), twinsMost)]
	return site.Response{Page: "duplicates.html", Data: &p, Refused: why}, nil
}

// twin gathers what a person compares.
func (s pages) twin(ctx context.Context, kind, id string) (twin, error) {
	if kind == duplicates.KindBoat {
		b, err := s.App.DB.Boat(ctx, id)
		if err != nil {
			return twin{}, err
		}
		who, err := s.App.OwnerOf(ctx, id)
		model := strings.TrimSpace(b.Make + " " + b.Model)
		return twin{ID: id, Name: b.Title(), URL: "/boats/" + id, Facts: site.Filled(model, hullNumber(b.HIN), who.Name)}, err
	}
	c, err := s.App.DB.Customer(ctx, id)
	if err != nil {
		return twin{}, err
	}
	boats, err := s.App.DB.BoatsOf(ctx, id)
	var names []string
	for i := range boats {
		names = append(names, boats[i].Title())
	}
	return twin{ID: id, Name: c.Name, Facts: site.Filled(c.Email, c.Phone, c.Address, c.City, strings.Join(names, "; "))}, err
}

func hullNumber(hin string) string {
	if hin == "" {
		return ""
	}
	return "HIN " + hin
}

// editTwins makes two one or tells them apart, or takes either back.
func (s pages) editTwins(r *http.Request) (site.Response, error) {
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
		return s.twinsAgain(r, why)
	}
	if errors.Is(err, store.ErrNotFound) {
		return s.twinsAgain(r, site.Refusals{site.At("", "One of the two no longer exists; somebody else has merged it.")})
	}
	if err != nil {
		return site.Response{}, err
	}
	return site.Response{To: "/duplicates", Note: note}, nil
}
