package customer

import (
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

// togetherPage brings several boats on one day.
type togetherPage struct {
	guest
	choosing
	Rows    []togetherRow
	Refused string
	Today   civil.Day
	rec     schedule.Recipient
}

// togetherRow is a boat with the visit that it comes for.
type togetherRow struct {
	Boat  schedule.Boat
	Visit myVisit
	On    bool // it is among those that come
}

// together shows the days on which a customer's boats can come at once: all of them, or
// those that are asked for.
func (s pages) together(r *http.Request, g guest) (site.Response, error) {
	p, err := s.togetherPage(r, g)
	if err != nil {
		return site.Response{}, err
	}
	if len(p.Rows) < 2 {
		return s.staleVisit(g), nil
	}
	return site.Response{Page: "my-together.html", Data: &p}, nil
}

func (s pages) togetherPage(r *http.Request, g guest) (togetherPage, error) {
	p := togetherPage{guest: g, Today: s.Today()}
	var err error
	if p.rec, err = s.recipient(r, g); err != nil {
		return p, err
	}
	if err := r.ParseForm(); err != nil {
		return p, site.NewProblem(http.StatusBadRequest, s.Say("page_problem.form"))
	}
	asked := r.Form["visits[]"]
	for i := range p.rec.Boats {
		if b := s.myVisits(g, &p.rec, &p.rec.Boats[i]); len(b.Visits) > 0 && b.asks() {
			on := len(asked) == 0 || slices.Contains(asked, b.Visits[0].Visit.ID)
			p.Rows = append(p.Rows, togetherRow{b.Boat, b.Visits[0], on})
		}
	}
	visits := p.visits()
	if len(visits) == 0 {
		return p, nil
	}
	p.choosing, err = s.choose(r, visits, visits[0].Week, 0)
	return p, err
}

// booked reports whether some visits are all booked for a day.
func (p *togetherPage) booked(ids []string, day string) bool {
	to, err := schedule.ParseWhen(day)
	return err == nil && len(ids) > 0 && !slices.ContainsFunc(ids, func(id string) bool {
		_, v := findVisit(&p.rec, id)
		return v == nil || !v.Visit.Booked() || v.Visit.Booking.Day != to.Day
	})
}

// visits are those that come.
func (p *togetherPage) visits() []*schedule.Visit {
	var visits []*schedule.Visit
	for i := range p.Rows {
		if p.Rows[i].On {
			visits = append(visits, &p.Rows[i].Visit.Visit)
		}
	}
	return visits
}

// takeTogether books one day for several boats.
func (s pages) takeTogether(r *http.Request, g guest) (site.Response, error) {
	p, err := s.togetherPage(r, g)
	if err != nil {
		return site.Response{}, err
	}
	visits := p.visits()
	if asked := r.Form["visits[]"]; len(visits) == 0 || len(visits) != len(asked) {
		if p.booked(asked, r.FormValue("day")) { // the button pressed twice
			return site.Response{To: g.Base}, nil
		}
		return s.refuseTogether(&p, site.At("day", s.Say("page_wrong.together_gone")))
	}
	day, minute, err := s.takenDay(r, p.Open, false)
	if err != nil {
		return s.refuseTogether(&p, err)
	}
	a := schedule.Answer{CustomerID: g.Customer.ID, Note: site.Typed(r, "note")}
	taken, err := s.App.Take(r.Context(), s.Now(), a, visits, day, minute, make([]string, len(visits)))
	if errors.Is(err, store.ErrStale) {
		err = site.At("day", s.Say("page_wrong.together_booked"))
	}
	if err != nil {
		return s.refuseTogether(&p, err)
	}
	ids := make([]string, len(taken))
	for i := range taken {
		ids[i] = strconv.FormatInt(taken[i].ID, 10)
	}
	return site.Response{To: g.Base + "/done/" + strings.Join(ids, ",")}, nil
}

// refuseTogether shows the page again with what is wrong.
func (s pages) refuseTogether(p *togetherPage, err error) (site.Response, error) {
	said, err := s.refusal(err)
	if err != nil {
		return site.Response{}, err
	}
	p.Refused = said.Words
	return site.Response{Page: "my-together.html", Data: p, Refused: site.Refusals{said}}, nil
}
