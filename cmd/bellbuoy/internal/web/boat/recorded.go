package boat

import (
	"net/http"
	"net/url"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/compression"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// recordedPage says what is on record of a day, and what comes next.
type recordedPage struct {
	site.VisitForm
	Day      civil.Day
	Done     []string
	Verdicts []string
	Next     []schedule.VisitView
}

// recordedAt leads from the form of work or readings to what is on record now.
func recordedAt(p *recordPage, day civil.Day, note string) site.Response {
	q := url.Values{"day": {day.String()}, "back": {p.Back}}
	return site.Response{To: "/boats/" + url.PathEscape(p.Boat.ID) + "/recorded?" + q.Encode(), Note: note}
}

// workDay is the day of work that was written down.
func workDay(w *store.Work) civil.Day {
	switch {
	case len(w.Records) > 0:
		return w.Records[0].Day
	case len(w.Readings) > 0:
		return w.Readings[0].Day
	case len(w.Measurements) > 0:
		return w.Measurements[0].Day
	case len(w.FollowUps) > 0:
		return w.FollowUps[0].Raised
	}
	return 0
}

// recorded shows what is on record of a day.
func (s pages) recorded(r *http.Request) (site.Response, error) {
	f, err := s.VisitForm(r)
	if err != nil {
		return site.Response{}, err
	}
	p := recordedPage{VisitForm: f}
	if p.Day, err = civil.Parse(r.FormValue("day")); err != nil {
		return site.Response{}, site.NotFound("The address lacks the day. The boat's page shows what is on record.")
	}
	facts, err := s.App.Facts(r.Context(), f.Boat.ID)
	if err != nil {
		return site.Response{}, err
	}
	names := partNames(&facts)
	for i := range facts.Records {
		if rec := &facts.Records[i]; rec.Day == p.Day {
			if said := s.doneWords(rec, names); said != "" {
				p.Done = append(p.Done, said)
			}
		}
	}
	for _, m := range facts.Readings {
		if m.Day == p.Day {
			p.Done = append(p.Done, names[m.ComponentID]+", the meter read "+s.Format().Hours(m.Hours)+" h")
		}
	}
	for i := range facts.FollowUps {
		if u := &facts.FollowUps[i]; u.Raised == p.Day {
			p.Done = append(p.Done, u.Title+", by "+s.Format().Date(u.Due))
		}
	}
	measured, err := s.App.DB.Measurements(r.Context(), f.Boat.ID)
	if err != nil {
		return site.Response{}, err
	}
	for _, m := range measured {
		if m.Day == p.Day && m.Kind == store.MeasureCompression {
			p.Verdicts = append(p.Verdicts, words.LowerFirst(names[m.ComponentID])+": "+compression.Judge(m.Figures, compression.Find(m.Rule)).String())
		}
	}
	p.Next = f.View.Visits[:min(len(f.View.Visits), 3)]
	return site.Response{Page: "recorded.html", Data: &p}, nil
}
