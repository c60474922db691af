package office

import (
	"net/http"
	"net/url"
	"strconv"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/store/report"
)

// changesPage is who changed what, newest first.
type changesPage struct {
	Rows   []changeLine
	Topics []choice
	People []choice
	More   string // address of earlier changes, "" for none
}

// changeLine is a change with what it is about.
type changeLine struct {
	site.ChangeRow
	Boat, Customer string // what they are called
}

// choice narrows the list.
type choice struct {
	Name, URL string
	Here      bool
}

// changesShown is how many changes a page has.
const changesShown = 50

func (s pages) changes(r *http.Request) (site.Response, error) {
	q := report.ChangeQuery{Actor: r.FormValue("person"), Topic: report.Topic(r.FormValue("about")), Limit: changesShown + 1}
	if v := r.FormValue("before"); v != "" {
		n, err := strconv.ParseInt(v, 10, 64)
		if err != nil {
			return site.Response{}, site.NewProblem(http.StatusBadRequest, "That part of the change history could not be read. Begin with the newest changes.")
		}
		q.Before = n
	}
	all, err := report.AllChanges(r.Context(), s.App.DB, q)
	if err != nil {
		return site.Response{}, err
	}
	rows, more, err := s.ChangeRows(r.Context(), all, changesShown)
	if err != nil {
		return site.Response{}, err
	}
	var p changesPage
	if more != 0 {
		p.More = changesURL(q.Actor, q.Topic) + "&before=" + strconv.FormatInt(more, 10)
	}
	for _, t := range []struct {
		report.Topic
		name string
	}{{report.TopicAll, "everything"}, {report.TopicBoats, "boats"}, {report.TopicCustomers, "customers"}, {report.TopicWeeks, "weeks and days"},
		{report.TopicMail, "email"}, {report.TopicSettings, "settings and accounts"}} {
		p.Topics = append(p.Topics, choice{t.name, changesURL(q.Actor, t.Topic), t.Topic == q.Topic})
	}
	people, err := report.Actors(r.Context(), s.App.DB)
	if err != nil {
		return site.Response{}, err
	}
	p.People = []choice{{"everybody", changesURL("", q.Topic), q.Actor == ""}}
	for _, name := range people {
		p.People = append(p.People, choice{name, changesURL(name, q.Topic), name == q.Actor})
	}
	p.Rows, err = s.nameChanges(r, rows)
	return site.Response{Page: "changes.html", Data: &p}, err
}

// changesURL is the address of a part of the change history.
func changesURL(person string, topic report.Topic) string {
	return "/changes?" + url.Values{"person": {person}, "about": {string(topic)}}.Encode()
}

// nameChanges names the boats and customers. One that is gone has its id.
func (s pages) nameChanges(r *http.Request, rows []site.ChangeRow) ([]changeLine, error) {
	boats, customers := make(map[string]string), make(map[string]string)
	out := make([]changeLine, len(rows))
	for i, row := range rows {
		out[i].ChangeRow = row
		if id := row.BoatID; id != "" && boats[id] == "" {
			boats[id] = id
			if b, err := s.App.DB.Boat(r.Context(), id); err == nil {
				boats[id] = b.Title()
			}
		}
		if id := row.CustomerID; id != "" && customers[id] == "" {
			customers[id] = id
			if c, err := s.App.DB.Customer(r.Context(), id); err == nil && c.Name != "" {
				customers[id] = c.Name
			}
		}
		out[i].Boat, out[i].Customer = boats[row.BoatID], customers[row.CustomerID]
	}
	return out, r.Context().Err()
}
