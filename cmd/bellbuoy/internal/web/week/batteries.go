package week

import (
	"net/http"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
)

// batteriesPage lists the batteries in storage to charge in a week, by place in
// the yard.
type batteriesPage struct {
	Week     civil.Week
	Now      bool // it is the present week, of which charges can be recorded
	Boats    int
	Places   []batteryPlace
	Cautions []string
}

// batteryPlace is the batteries of one place in the yard.
type batteryPlace struct {
	Berth   string
	Charges []app.Charge
}

func (s pages) batteries(r *http.Request) (site.Response, error) {
	p := batteriesPage{Week: s.Today().Week()}
	if v := r.FormValue("week"); v != "" {
		w, err := civil.ParseWeek(v)
		if err != nil {
			return site.Response{}, site.NewProblem(http.StatusBadRequest, "That week could not be read. Weeks are written like 2027-W18.")
		}
		p.Week = w
	}
	p.Now = p.Week == s.Today().Week()
	charges, err := s.App.Charges(r.Context(), p.Week, s.Today())
	if err != nil {
		return site.Response{}, err
	}
	if p.Boats, err = s.App.ChargeBoats(r.Context(), p.Week, s.Today()); err != nil {
		return site.Response{}, err
	}
	said := make(map[string]bool)
	for _, c := range charges {
		if n := len(p.Places); n == 0 || p.Places[n-1].Berth != c.Boat.Berth {
			p.Places = append(p.Places, batteryPlace{Berth: c.Boat.Berth})
		}
		last := &p.Places[len(p.Places)-1]
		last.Charges = append(last.Charges, c)
		for _, text := range c.Rule.Cautions {
			if !said[text] {
				said[text] = true
				p.Cautions = append(p.Cautions, text)
			}
		}
	}
	return site.Response{Page: "batteries.html", Data: &p}, nil
}

// charged records the batteries that were ticked.
func (s pages) charged(r *http.Request) (site.Response, error) {
	if err := r.ParseForm(); err != nil {
		return site.Response{}, err
	}
	var ids []string
	for name := range r.PostForm {
		if id, ok := strings.CutPrefix(name, "charged:"); ok {
			ids = append(ids, id)
		}
	}
	n, err := s.App.RecordCharged(r.Context(), s.Now(), site.Actor(r), ids)
	note := "Recorded: " + words.Plural(n, "battery", "batteries") + " charged."
	if len(ids) == 0 {
		note = "Nothing recorded: check the batteries that were charged."
	}
	return site.Response{To: "/batteries", Note: note}, err
}
