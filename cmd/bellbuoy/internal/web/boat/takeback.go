package boat

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// takeBackForm asks whether what was recorded on a day is taken back.
func (s pages) takeBackForm(r *http.Request) (site.Response, error) {
	p, all, err := s.takeBackPage(r)
	if err != nil {
		return site.Response{}, err
	}
	changes, err := s.App.WithoutWork(r.Context(), s.Now(), all)
	if p.Follows = s.DueWords(changes); len(p.Follows) == 0 {
		p.Follows = []string{"Nothing in the plan falls due on another day."}
	}
	return site.Response{Page: "take-back.html", Data: p}, err
}

// takeBackPage lists what was recorded on the day that the request names. all is
// everything of it.
func (s pages) takeBackPage(r *http.Request) (p *site.TakeBackPage, all store.Mistake, err error) {
	id := r.PathValue("id")
	f, err := s.App.Facts(r.Context(), id)
	if err != nil {
		return nil, all, err
	}
	day, err := civil.Parse(r.FormValue("day"))
	if err != nil {
		return nil, all, site.NotFound("The address lacks the day whose work is taken back. Go back to the boat's page and choose it.")
	}
	page := "/boats/" + url.PathEscape(id)
	p = &site.TakeBackPage{
		Title: f.Boat.Title() + ": take back what was recorded on " + s.Format().Date(day) + "?", Form: site.NewForm(), Back: page + "#history",
		Action: page + "/take-back?day=" + day.String(),
	}
	all.BoatID = id
	names := partNames(&f)
	sent, posted := r.PostForm, r.Method == http.MethodPost
	tick := func(name, value, words string) {
		p.Ticks = append(p.Ticks, site.Tick{Name: name, Value: value, Words: words, On: !posted || slices.Contains(sent[name], value)})
	}
	for _, rec := range f.Records {
		if rec.Day != day {
			continue
		}
		all.Records = append(all.Records, rec)
		said := s.doneWords(&rec, names)
		if said == "" {
			said = "Remark: " + rec.Note
		}
		if rec.Amount != 0 {
			said += ", " + s.Format().Money(rec.Amount)
		}
		tick("record", rec.ID, said)
	}
	for _, m := range f.Readings {
		if m.Day == day {
			all.Readings = append(all.Readings, m)
			tick("reading", readingKey(m), names[m.ComponentID]+", the meter read "+m.Hours.String()+" h")
		}
	}
	if len(p.Ticks) == 0 {
		return nil, all, site.NotFound("Nothing is on record on that day any more: it was taken back. The boat's page shows what stands.")
	}
	owner, err := s.App.OwnerOf(r.Context(), id)
	if err != nil {
		return nil, all, err
	}
	told, err := s.App.ToldOf(r.Context(), owner.ID, id, schedule.StepSummary, day)
	p.SetTold(s.Site, told)
	return p, all, err
}

// readingKey names a reading in a form.
func readingKey(m schedule.Reading) string { return m.ComponentID + " " + m.Hours.String() }

// takeBack takes back what is ticked.
func (s pages) takeBack(r *http.Request) (site.Response, error) {
	if err := r.ParseForm(); err != nil {
		return site.Response{}, site.NewProblem(http.StatusBadRequest, "The form could not be read.")
	}
	p, all, err := s.takeBackPage(r)
	if err != nil {
		return site.Response{}, err
	}
	m := store.Mistake{BoatID: all.BoatID}
	for _, rec := range all.Records {
		if slices.Contains(r.PostForm["record"], rec.ID) {
			m.Records = append(m.Records, rec)
		}
	}
	for _, x := range all.Readings {
		if slices.Contains(r.PostForm["reading"], readingKey(x)) {
			m.Readings = append(m.Readings, x)
		}
	}
	if len(m.Records)+len(m.Readings) == 0 {
		return s.TakenBack(r, p, m.BoatID, nil, site.Correct("Nothing is ticked. Tick what was a mistake, or cancel."))
	}
	did, err := s.App.TakeBackWork(r.Context(), s.Now(), site.Actor(r), r.PostFormValue("form"), m, p.Owed(r, m.BoatID)...)
	return s.TakenBack(r, p, m.BoatID, &did, err)
}

// takeBackOwnerForm asks whether the newest change of a boat's owner is taken
// back.
func (s pages) takeBackOwnerForm(r *http.Request) (site.Response, error) {
	p, _, err := s.takeBackOwnerPage(r)
	return site.Response{Page: "take-back.html", Data: p}, err
}

func (s pages) takeBackOwnerPage(r *http.Request) (*site.TakeBackPage, schedule.Ownership, error) {
	ctx, id := r.Context(), r.PathValue("id")
	b, err := s.App.DB.Boat(ctx, id)
	if err != nil {
		return nil, schedule.Ownership{}, err
	}
	all, err := s.App.DB.Ownerships(ctx, id)
	if err != nil {
		return nil, schedule.Ownership{}, err
	}
	if len(all) == 0 {
		return nil, schedule.Ownership{}, site.NotFound("Nobody has owned this boat by the file, so there is no change of owner to take back.")
	}
	newest := all[len(all)-1]
	c, err := s.App.DB.Customer(ctx, newest.CustomerID)
	if err != nil {
		return nil, newest, err
	}
	page := "/boats/" + url.PathEscape(id)
	p := &site.TakeBackPage{Form: site.NewForm(), Seen: site.Seen(newest), Action: page + "/owner/take-back", Back: page}
	switch {
	case newest.To != 0 && b.Gone != 0:
		p.Title = fmt.Sprintf("%s: take back that it is inactive since %s?", b.Title(), s.Format().Date(newest.To))
		p.Follows = []string{c.Name + " has the boat again. It is planned, and " + c.Name + " hears about it.", "Booked days that were given up are not booked again."}
	case newest.To != 0:
		p.Title = fmt.Sprintf("%s: take back that it was traded in on %s?", b.Title(), s.Format().Date(newest.To))
		p.Follows = []string{c.Name + " has the boat again, as if it had never left them.", "Booked days that were given up are not booked again."}
	default:
		before := "the shop"
		if n := len(all); n > 1 && all[n-2].To == newest.From {
			was, err := s.App.DB.Customer(ctx, all[n-2].CustomerID)
			if err != nil {
				return nil, newest, err
			}
			before = was.Name
		}
		p.Title = fmt.Sprintf("%s: take back that %s has it%s?", b.Title(), c.Name, s.since(newest.From))
		p.Follows = []string{words.UpperFirst(before) + " has the boat again.", c.Name + " stays on file. Their page and calendar no longer show the boat, and emails about it that have not gone out are withdrawn."}
		if b.SoldOn == newest.From && newest.From != 0 {
			p.Follows = append(p.Follows, "It no longer counts as a sale. The work, readings and measurements that were entered with the sale, and its warranty, are taken back too.")
		}
		told, err := s.App.ToldOf(ctx, c.ID, id, schedule.StepWelcome, newest.From)
		if err != nil {
			return nil, newest, err
		}
		p.SetTold(s.Site, told)
	}
	return p, newest, nil
}

func (s pages) since(d civil.Day) string {
	if d == 0 {
		return ""
	}
	return " since " + s.Format().Date(d)
}

func (s pages) takeBackOwner(r *http.Request) (site.Response, error) {
	p, newest, err := s.takeBackOwnerPage(r)
	if err != nil {
		return site.Response{}, err
	}
	id := r.PathValue("id")
	if r.PostFormValue("seen") != p.Seen {
		return s.TakenBack(r, p, id, nil, store.ErrStale)
	}
	did, err := s.App.TakeBackOwner(r.Context(), s.Now(), site.Actor(r), r.PostFormValue("form"), id, newest, p.Owed(r, id)...)
	return s.TakenBack(r, p, id, &did, err)
}
